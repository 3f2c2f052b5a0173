// The search of the site runs in a worker, and a browser starts no worker for pages opened from a folder. There, a
// hidden frame does its work. Named as the builder's plugin `offline` expects it, which would fetch another otherwise.
if (location.protocol === "file:") {
  window.Worker = class extends EventTarget {
    constructor(url) {
      super();
      const frame = document.createElement("iframe");
      frame.hidden = true;
      document.body.appendChild(frame);
      const inside = frame.contentWindow;
      inside.importScripts = (...scripts) =>
        scripts.reduce((before, script) => before.then(() => run(inside, new URL(script, url))), Promise.resolve());
      inside.postMessage = (data) => this.dispatchEvent(new MessageEvent("message", { data }));
      this.inside = inside;
      this.ready = run(inside, url);
    }

    postMessage(data) {
      this.ready.then(() => this.inside.dispatchEvent(new MessageEvent("message", { data })));
    }

    terminate() {
      this.inside.frameElement.remove();
    }
  };
}

function run(inside, url) {
  return new Promise((loaded, failed) => {
    const script = inside.document.createElement("script");
    script.src = url;
    script.onload = loaded;
    script.onerror = failed;
    inside.document.body.appendChild(script);
  });
}
