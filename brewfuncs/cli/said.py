"""What all commands share: exit codes, one sentence on a refusal, values as a line shows them."""

from __future__ import annotations

import io
import json
import os
import re
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, NoReturn

import click

from brewfuncs.errors import BrewError, WorkbookError

FOUND, MISUSED, REFUSED, STALE = 1, 2, 3, 4  # exit codes; 0 is all well
INTERRUPTED = 130  # as shells have it

EXISTING = click.Path(path_type=Path)


class _Typed(click.types.StringParamType):
    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        try:
            return os.fsencode(value).decode() if re.search("[\udc80-\udcff]", value) else value
        except UnicodeDecodeError:
            self.fail("it has characters that aren't UTF-8", param, ctx)


#: what is typed in words, in UTF-8 even where the locale knows no such thing (LC_ALL=C) and Python couldn't read it
TYPED = _Typed()


def stop(code: int, sentence: str) -> NoReturn:
    click.echo(f"brewfuncs: {sentence}", err=True)
    raise SystemExit(code)


def refuse_output(output: Path, endings: tuple[str, ...], force: bool, hint: str = "'OUTPUT'") -> None:
    """Stop before the work where a file can't be written: an ending it may not have, or a file that is there."""
    if output.suffix.lower() not in endings:
        raise click.BadParameter(f"{output.name} should end in {' or '.join(endings)}", param_hint=hint)
    if output.exists() and not force:
        stop(REFUSED, f"{output} exists already; --force overwrites it")


def write_output(output: Path, content: bytes | str) -> None:
    from brewfuncs.xlsx.replace import write_new

    write_new(output, content.encode("utf-8") if isinstance(content, str) else content)
    click.echo(f"{output} written")


def print_json(value: Any) -> None:
    narrow = "utf" not in (getattr(sys.stdout, "encoding", None) or "").lower()  # a ? for a sign would be another value
    click.echo(json.dumps(value, ensure_ascii=narrow, indent=2, default=_error_as_json))


def _error_as_json(error: BrewError) -> dict[str, str]:
    return {"error": error.code, "sentence": str(error)}


class Commands(click.Group):
    """A group whose commands end in one sentence, never in a traceback."""

    def main(self, *args: Any, **more: Any) -> Any:
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):  # a code page that lacks a sign gets a ? for it, not a traceback
                stream.reconfigure(errors="replace")
        return super().main(*args, **more)

    def make_context(self, *args: Any, **more: Any) -> click.Context:
        with _sentences():
            return super().make_context(*args, **more)

    def invoke(self, ctx: click.Context) -> Any:
        with _sentences():
            return super().invoke(ctx)


@contextmanager
def _sentences() -> Iterator[None]:
    try:
        yield
    except WorkbookError as error:
        stop(REFUSED, str(error))
    except BrewError as error:
        stop(FOUND, str(error))
    except KeyboardInterrupt:
        stop(INTERRUPTED, f"interrupted; {_done()}")
    except BrokenPipeError:  # the reader of a pipe has seen enough
        sys.stderr.close()
        raise SystemExit(0) from None
    except OSError as error:
        name = f"{error.filename}: " if error.filename else ""
        stop(REFUSED, f"{name}{(error.strerror or str(error)).lower()}; {_done()}")


def _done() -> str:
    from brewfuncs.xlsx.replace import saved

    files = saved()
    return f"already saved: {', '.join(files)}" if files else "nothing was changed"


def shown(value: Any, unit: str) -> str:
    if isinstance(value, bool):
        return str(value).upper()
    if isinstance(value, BrewError):
        return f"{value.code} ({value})"
    if not isinstance(value, (int, float)):
        return str(value)
    digits = f"{value:.6g}" if 1e-4 <= abs(value) < 1e6 or value == 0 else f"{value:.7g}"
    return f"{digits} {unit}".rstrip()
