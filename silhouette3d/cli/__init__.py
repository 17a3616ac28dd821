"""The command line: ``silhouette3d COMMAND …``.

Exit status: 0 where nothing is wrong, 1 where something is to mend or no order or tab holds
the part or frees it, 2 for input that cannot be used, 130 after Ctrl-C, 141 where a pipe closed.
"""

from __future__ import annotations

import errno
import shlex
import sys
from collections.abc import Callable, Sequence
from functools import wraps
from inspect import signature

from cyclopts import App, CycloptsError, Parameter, UnusedCliTokensError

from silhouette3d import __version__
from silhouette3d.cli.check import check, thickness, weigh
from silhouette3d.cli.common import complain, drop_output, lenient
from silhouette3d.cli.plan import order, stages, tabs
from silhouette3d.cli.start import materials, new, schema
from silhouette3d.cli.start import open as open_command
from silhouette3d.cli.write import export, outline, page, picture, setups, sheets, show
from silhouette3d.errors import SilhouetteError

__all__ = ["main"]

BAD_INPUT = 2
INTERRUPTED = 130
"""128 and the number of the signal that Ctrl-C sends, as shells count."""
BROKEN_PIPE = 141
"""128 and the number of the signal that a closed pipe sends, as shells count."""
DISK_IS_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
"""What can befall standard output; files that are written have errors of their own."""

_HELP = """
A part cut from one block by through-cuts from several sides: checked, weighed, pictured and
exported before the first cut.

JOB is a job file, or a folder that holds a job.toml; `silhouette3d new FOLDER` writes a first one.
"""

_STATUS = """
Exit status: 0 nothing wrong, 1 there is something to mend (check, thickness; order and tabs where
nothing would hold the part or free it), 2 the input cannot be used.
"""

app = App(
    name="silhouette3d",
    help=_HELP,
    help_epilogue=_STATUS,
    help_format="plaintext",
    version=__version__,
    default_parameter=Parameter(negative=()),
    suppress_keyboard_interrupt=False,
)
_COMMANDS: tuple[Callable[..., object], ...] = (
    new,
    check,
    weigh,
    thickness,
    stages,
    order,
    tabs,
    outline,
    picture,
    show,
    open_command,
    sheets,
    setups,
    page,
    export,
    materials,
    schema,
)


def _in_words(command: Callable[..., object]) -> Callable[..., object]:
    """Have a command tell in words what a library gives up on: some values are worked out late."""

    @wraps(command)
    def run(*given: object, **named: object) -> object:
        from silhouette3d.presentation.wording.backend_errors import told_in_words

        job = signature(command).bind(*given, **named).arguments.get("job")
        with told_in_words(str(job or "job")):
            return command(*given, **named)

    return run


for _position, _command in enumerate(_COMMANDS):
    app.command(_in_words(_command), sort_key=_position)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command.

    Parameters
    ----------
    arguments : sequence of str, optional
        What follows the program's name; that of this process by default.

    Returns
    -------
    int
        The exit status.
    """
    lenient()
    try:
        status: int | None = app(
            arguments, exit_on_error=False, print_error=False, result_action="return_value"
        )
        sys.stdout.flush()
    except UnusedCliTokensError as error:
        complain(f"too many words: {shlex.join(error.unused_tokens or [])}")
        return BAD_INPUT
    except (CycloptsError, SilhouetteError) as error:
        complain(str(error))
        return BAD_INPUT
    except OSError as error:
        if isinstance(error, BrokenPipeError):  # whoever read has gone: be quiet
            drop_output()
            return BROKEN_PIPE
        if error.errno not in DISK_IS_FULL:
            raise
        drop_output()
        complain(f"the output cannot be written: {error.strerror}")
        return BAD_INPUT
    except KeyboardInterrupt:
        complain("stopped")
        return INTERRUPTED
    return int(status or 0)
