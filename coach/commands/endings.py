"""How a command ends: whatever happens, one exit code and, where it is not fine, plain words. Loads no library."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from collections.abc import Callable

from coach.commands.problems import words_of
from coach.commands.words import CRASH, FINE, INTERRUPTED, Refused, complain, remark, speak_utf8


def ended(work: Callable[[], int]) -> int:
    """The exit code of ``work``, which returns one of its own or raises."""
    speak_utf8()
    code = _code(work)
    _let_go()
    return code


def _let_go() -> None:
    """Where the terminal is gone, what is left in the buffers goes nowhere, or the interpreter exits with 120."""
    for stream in (sys.stdout, sys.stderr):
        try:
            stream.flush()
        except OSError:
            os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def _code(work: Callable[[], int]) -> int:
    try:
        code = work()
        sys.stdout.flush()
        return code
    except Refused as refused:
        complain(str(refused))
        return refused.code
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has seen enough. The interpreter flushes once more on its way out: let it fall.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return FINE
    except OSError as error:
        return INTERRUPTED if error.errno == errno.EIO else _told(error)
    except Exception as error:
        return _told(error)


def _told(error: Exception) -> int:
    """The exit code of an error that no command foresaw; problems of files and of the disk are not crashes."""
    if os.environ.get("KNEESIDE_TRACE") == "1":
        traceback.print_exc()
    known = words_of(error)
    if known is not None:
        words, code = known
        complain(words)
        return code
    complain(f"something in the program broke: {type(error).__name__}: {error}")
    remark("This is a mistake of ours. KNEESIDE_TRACE=1 before the same command shows where; please tell us.")
    return CRASH
