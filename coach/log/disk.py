"""What the log asks of the system, in one place that a test can break on purpose."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from pathlib import Path

if sys.platform != "win32":
    import fcntl

LOCK_TRIES = 5
LOCK_PAUSE_S = 0.01
"""A look at whether a log is being written holds the lock for microseconds; a writer that meets one tries again."""


class Disk:
    """The real one. Every method may raise OSError; tests override single methods to fail."""

    def create(self, path: Path) -> int:
        """A new file, for appending, readable by its owner alone; FileExistsError if the name is taken."""
        try:
            path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        except FileExistsError:
            raise NotADirectoryError(errno.ENOTDIR, "not a folder") from None
        return os.open(path, os.O_RDWR | os.O_APPEND | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)

    def reopen(self, path: Path) -> int:
        """An existing file, for reading and appending; a link in its place is refused."""
        return os.open(path, os.O_RDWR | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0))

    def write(self, fd: int, data: bytes) -> int:
        """One write call; the number of bytes taken, which may be fewer than given."""
        return os.write(fd, data)

    def sync(self, fd: int) -> None:
        """Return when the bytes are on the medium, as far as the system can tell."""
        if sys.platform == "darwin":
            # fsync on macOS stops at the drive's cache; some file systems know no full sync and get the plain one.
            with contextlib.suppress(OSError):
                fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
                return
        os.fsync(fd)

    def sync_folder(self, folder: Path) -> None:
        """Make a new name in ``folder`` last; Windows has no such call and needs none."""
        if sys.platform == "win32":
            return
        fd = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(fd)
        finally:
            os.close(fd)

    def truncate(self, fd: int, size: int) -> None:
        """Cut the file to ``size`` bytes."""
        os.ftruncate(fd, size)

    def close(self, fd: int) -> None:
        """Close, which also gives up the lock."""
        os.close(fd)

    def lock(self, fd: int) -> bool:
        """Hold the file as its only writer until it is closed; false if another process does.

        Advisory, and absent on Windows and on file systems that know no locks: there it always succeeds.
        """
        for _ in range(LOCK_TRIES):
            if _flock(fd, exclusive=True):
                return True
            time.sleep(LOCK_PAUSE_S)
        return False

    def is_written_now(self, path: Path) -> bool:
        """Whether some process holds ``path`` as its writer at this moment."""
        fd = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0))
        try:
            return not _flock(fd, exclusive=False)
        finally:
            os.close(fd)


def _flock(fd: int, *, exclusive: bool) -> bool:
    if sys.platform == "win32":
        return True
    try:
        fcntl.flock(fd, (fcntl.LOCK_EX if exclusive else fcntl.LOCK_SH) | fcntl.LOCK_NB)
    except OSError as problem:
        return problem.errno not in (errno.EWOULDBLOCK, errno.EAGAIN, errno.EACCES)
    return True


def write_all(disk: Disk, fd: int, data: bytes) -> tuple[int, OSError | None]:
    """Write ``data`` in as few calls as the system lets: the bytes taken, and what stopped it.

    Mostly one call. A short write goes on with the rest; an interrupted one is repeated.
    """
    done = 0
    while done < len(data):
        try:
            took = disk.write(fd, data[done:] if done else data)
        except InterruptedError:
            continue
        except OSError as problem:
            return done, problem
        if took <= 0:
            return done, OSError(errno.EIO, "the disk took nothing")
        done += took
    return done, None


def in_words(problem: OSError) -> str:
    """What went wrong, without the number and the path that Python puts around it."""
    return (problem.strerror or str(problem) or type(problem).__name__).lower()
