"""Take from this process what reading a file does not need: memory, time, the network, other files.

Once confined, a process stays so. What a system cannot refuse is left out without a word: Linux on x86-64 and
ARM64 knows all of it, other systems little more than the limit of time (DEVELOPERS.md).
"""

from __future__ import annotations

import ctypes
import os
import struct
import sys
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, Final

if sys.platform != "win32":
    import resource

_MB: Final = 1024 * 1024


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What one child process may use."""

    memory_bytes: int = 1024 * _MB
    """Address space above what the process has when it begins."""
    cpu_s: int = 10
    wall_s: float = 60.0

    @classmethod
    def for_bytes(cls, size: int) -> Limits:
        """Return what reading a file of a size may use: a large list takes more than a small one.

        >>> Limits.for_bytes(10_000), Limits.for_bytes(40_000_000).cpu_s
        (Limits(memory_bytes=1073741824, cpu_s=10, wall_s=60.0), 124)
        """
        megabytes = size // _MB
        cpu_s = 10 + 3 * megabytes
        memory = min(1024 + 64 * megabytes, 6 * 1024) * _MB
        return cls(memory_bytes=memory, cpu_s=cpu_s, wall_s=max(60.0, 4.0 * cpu_s))


def confine(limits: Limits, readable: Iterable[Path]) -> None:
    """Confine this process for good: only Python's own folders and `readable` are left of the file system."""
    if sys.platform == "win32":
        return
    has = _address_space()
    for name, value, last in (
        (resource.RLIMIT_AS, has + limits.memory_bytes if has else resource.RLIM_INFINITY, 0),
        (resource.RLIMIT_CPU, limits.cpu_s, 1),  # the first limit says which it was, the last does not
        (resource.RLIMIT_FSIZE, 0, 0),
        (resource.RLIMIT_CORE, 0, 0),
        (resource.RLIMIT_NOFILE, 64, 0),
    ):
        _, hard = resource.getrlimit(name)
        if value != resource.RLIM_INFINITY:
            most = value + last if hard == resource.RLIM_INFINITY else min(value + last, hard)
            resource.setrlimit(name, (min(value, most), most))
    if sys.platform == "linux":
        libc = ctypes.CDLL(None, use_errno=True)
        libc.prctl(_NO_NEW_PRIVILEGES, 1, 0, 0, 0)
        _close_files(libc, [*own_folders(), *readable])
        _close_network(libc)


def _address_space() -> int:
    """Return the bytes of address space this process has now; 0 where the system does not say."""
    try:
        pages = Path("/proc/self/statm").read_text(encoding="ascii").split()[0]
    except OSError:
        return 0
    return int(pages) * os.sysconf("SC_PAGE_SIZE")


#: How the folders of Python's own extensions and of packages end.
_INSTALLED: Final = ("lib-dynload", "site-packages", "dist-packages")


@cache
def own_folders() -> tuple[Path, ...]:
    """Return where Python, its packages, their data and the system's libraries lie."""
    installed = {entry for entry in sys.path if entry.endswith(_INSTALLED)}
    data = {os.environ.get(name, "") for name in ("PROJ_DATA", "PROJ_LIB", "GDAL_DATA")}
    share = os.environ.get("XDG_DATA_HOME") or str(Path.home() / ".local/share")
    system = {"/lib", "/lib64", "/usr/lib", "/usr/share/zoneinfo", "/usr/share/proj", "/usr/share/gdal"}
    system |= {"/etc/ld.so.cache", "/dev/null", "/dev/urandom"}
    own = {str(Path(__file__).parents[2]), os.path.dirname(os.__file__), f"{share}/proj"}
    every = (Path(name) for name in sorted({*installed, *data, *system, *own}) if name)
    return tuple(path for path in every if path.exists())


# -- the file system: Landlock (Linux 5.13 and later, Documentation/userspace-api/landlock.rst) ------------

_NO_NEW_PRIVILEGES: Final = 38
_CREATE_RULESET, _ADD_RULE, _RESTRICT_SELF = 444, 445, 446
_READ_FILE, _READ_FOLDER = 1 << 2, 1 << 3
#: Landlock's version -> how many rights of the file system it knows; later ones know as many as the last.
_RIGHTS: Final[Mapping[int, int]] = {1: 13, 2: 14, 3: 15, 4: 15, 5: 16}
_TCP: Final = 0b11
_SIGNALS_AND_SOCKETS: Final = 0b11


def landlock_version(libc: Any = None) -> int:
    """Return the version of Landlock that this system has; 0 = none."""
    if sys.platform != "linux":
        return 0
    libc = libc or ctypes.CDLL(None, use_errno=True)
    return max(0, int(libc.syscall(_CREATE_RULESET, None, 0, 1)))


def _close_files(libc: Any, readable: Iterable[Path]) -> None:
    version = landlock_version(libc)
    if not version:
        return
    rights = (1 << _RIGHTS.get(version, 16)) - 1
    parts = [rights] + [_TCP] * (version >= 4) + [_SIGNALS_AND_SOCKETS] * (version >= 6)
    attributes = struct.pack(f"{len(parts)}Q", *parts)
    rules = libc.syscall(_CREATE_RULESET, attributes, len(attributes), 0)
    for path in readable:
        try:
            place = os.open(path, os.O_PATH | os.O_CLOEXEC)
        except OSError:  # a file that goes away meanwhile is missed when it is read
            continue
        allowed = _READ_FILE | (_READ_FOLDER if path.is_dir() else 0)
        libc.syscall(_ADD_RULE, rules, 1, struct.pack("=Qi", allowed, place), 0)
        os.close(place)
    libc.syscall(_RESTRICT_SELF, rules, 0)
    os.close(rules)


# -- the network and other processes: seccomp (Documentation/userspace-api/seccomp_filter.rst) -------------

#: System call -> its number on x86-64 and on ARM64 (None = not there).
_REFUSED: Final[Mapping[str, tuple[int | None, int | None]]] = {
    "socket": (41, 198),
    "socketpair": (53, 199),
    "connect": (42, 203),
    "bind": (49, 200),
    "listen": (50, 201),
    "accept": (43, 202),
    "accept4": (288, 242),
    "execve": (59, 221),
    "execveat": (322, 281),
    "fork": (57, None),
    "vfork": (58, None),
    "ptrace": (101, 117),
    "process_vm_readv": (310, 270),
    "process_vm_writev": (311, 271),
    "pidfd_getfd": (438, 438),
    "io_uring_setup": (425, 425),
    "bpf": (321, 280),
    "perf_event_open": (298, 241),
    "userfaultfd": (323, 282),
    "keyctl": (250, 219),
    "add_key": (248, 217),
    "request_key": (249, 218),
    "unshare": (272, 97),
    "setns": (308, 268),
    "mount": (165, 40),
    "open_by_handle_at": (304, 265),
}
#: Machine -> which number of `_REFUSED`, the mark by which the kernel knows it (linux/audit.h), `clone`.
_MACHINES: Final[Mapping[str, tuple[int, int, int]]] = {
    "x86_64": (0, 0xC000003E, 56),
    "aarch64": (1, 0xC00000B7, 220),
}
_CLONE3, _THREAD = 435, 0x10000
_LOAD, _EQUAL, _AT_LEAST, _ANY_BIT, _RETURN = 0x20, 0x15, 0x35, 0x45, 0x06
_ALLOW, _KILL, _NOT_PERMITTED, _NOT_THERE = 0x7FFF0000, 0x80000000, 0x00050001, 0x00050026
_NUMBER_AT, _MACHINE_AT, _FIRST_ARGUMENT_AT = 0, 4, 16
_SECCOMP: Final = 22
_X32: Final = 0x40000000


def _close_network(libc: Any) -> None:
    machine = os.uname().machine
    if machine not in _MACHINES or struct.calcsize("P") != 8:
        return
    program = _program(*_MACHINES[machine])
    words = b"".join(struct.pack("=HBBI", *each) for each in program)
    held = ctypes.create_string_buffer(words, len(words))
    head = ctypes.create_string_buffer(struct.pack("HP", len(program), ctypes.addressof(held)))
    libc.prctl(_SECCOMP, 2, head, 0, 0)


def _program(which: int, mark: int, clone: int) -> list[tuple[int, int, int, int]]:
    """Return the filter: instruction, steps to go on if it holds, steps if not, value."""
    end = [
        (_EQUAL, 0, 1, _CLONE3),
        (_RETURN, 0, 0, _NOT_THERE),  # then `clone` is called, whose flags can be looked at
        (_EQUAL, 0, 2, clone),
        (_LOAD, 0, 0, _FIRST_ARGUMENT_AT),
        (_ANY_BIT, 0, 1, _THREAD),
        (_RETURN, 0, 0, _ALLOW),
        (_RETURN, 0, 0, _NOT_PERMITTED),
    ]
    numbers = [number for pair in _REFUSED.values() if (number := pair[which]) is not None]
    steps = len(end) - 1
    # numbers of a second way to call the same kernel
    refusals = [(_AT_LEAST, steps + len(numbers), 0, _X32)]
    refusals += [(_EQUAL, steps + left, 0, number) for left, number in enumerate(numbers)][::-1]
    machine = [(_LOAD, 0, 0, _MACHINE_AT), (_EQUAL, 1, 0, mark), (_RETURN, 0, 0, _KILL)]
    return [*machine, (_LOAD, 0, 0, _NUMBER_AT), *refusals, *end]
