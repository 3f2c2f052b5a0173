"""The command `brewfuncs`, also as `python -m brewfuncs`."""

import signal


def run() -> None:
    try:
        from brewfuncs.cli import main

        main()
    finally:  # all is done and said: Ctrl-C amid the tidying up would change nothing but the exit code
        signal.signal(signal.SIGINT, signal.SIG_IGN)


if __name__ == "__main__":
    run()
