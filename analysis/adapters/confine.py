"""What a process gives up before it opens a stranger's file: memory, time, file size, the network."""

from __future__ import annotations

import ctypes
import os
import platform
import resource
import signal
import socket
import struct
import sys
from dataclasses import dataclass

from analysis.adapters.threads import keep_to_cores, state_threads

_PR_SET_PDEATHSIG = 1
_PR_SET_SECCOMP = 22
_PR_SET_NO_NEW_PRIVS = 38
_SECCOMP_MODE_FILTER = 2

_RET_ALLOW = 0x7FFF0000
_RET_ERRNO_EPERM = 0x00050000 | 1
_RET_KILL_PROCESS = 0x80000000

_LOAD_WORD = 0x20
_JUMP_EQUAL = 0x15
_JUMP_AT_LEAST = 0x35
_RETURN = 0x06

_AT_NUMBER, _AT_ARCH, _AT_FIRST_ARGUMENT = 0, 4, 16
_X32_BIT = 0x40000000


@dataclass(frozen=True)
class _Machine:
    audit_arch: int
    socket: int
    # Ways around a socket filter: other processes' memory and descriptors, and submission rings.
    denied: tuple[int, ...]


# Numbers: Linux, include/uapi/linux/audit.h and the two system call tables.
_MACHINES = {
    "x86_64": _Machine(0xC000003E, 41, (101, 310, 311, 425, 426, 427, 438)),
    "aarch64": _Machine(0xC00000B7, 198, (117, 270, 271, 425, 426, 427, 438)),
}


@dataclass(frozen=True)
class Limits:
    """What one run may use.

    Attributes
    ----------
    cpu_s : int
        Processor time of all threads together, seconds.
    memory_bytes : int
        Private writable memory.
    file_bytes : int
        Largest file it may write.
    wall_s : float
        Time by the clock, seconds; kept by the parent.
    open_files : int
    nice : int
        How much to step back behind other processes, 0 to 19.
    threads : int
        Processor cores it may run on, and threads its libraries are told to use, 1 to 64.
    """

    cpu_s: int
    memory_bytes: int
    file_bytes: int
    wall_s: float
    open_files: int = 256
    nice: int = 0
    threads: int = 2

    def __post_init__(self) -> None:
        for name in ("cpu_s", "memory_bytes", "file_bytes", "wall_s", "open_files"):
            if getattr(self, name) <= 0:
                raise ValueError(f"{name} must be above 0, got {getattr(self, name)}")
        if not 0 <= self.nice <= 19:
            raise ValueError(f"nice must be within 0..19, got {self.nice}")
        if not 1 <= self.threads <= 64:
            raise ValueError(f"threads must be within 1..64, got {self.threads}")


def protections() -> dict[str, bool]:
    """Which protections this machine can give.

    Returns
    -------
    dict of str to bool
        ``memory``, ``cpu``, ``file_size``, ``dies_with_parent``, ``no_network``.

    Notes
    -----
    macOS doesn't enforce a limit on data memory and has neither parent-death signals nor system call filters.
    """
    linux = sys.platform == "linux"
    return {
        "memory": linux,
        "cpu": True,
        "file_size": True,
        "dies_with_parent": linux,
        "no_network": linux and platform.machine() in _MACHINES,
    }


def confine(limits: Limits, parent_pid: int) -> None:
    """Give up, for good, what `limits` doesn't grant. Call it before any other thread is started.

    Parameters
    ----------
    limits : Limits
    parent_pid : int
        The process whose death must end this one.

    Raises
    ------
    OSError
        If the system refuses one of the steps that `protections` promises.
    """
    _limit(resource.RLIMIT_CORE, 0)
    # A soft limit below the hard one: the signal then says that it was processor time.
    _limit(resource.RLIMIT_CPU, limits.cpu_s, limits.cpu_s + 5)
    _limit(resource.RLIMIT_FSIZE, limits.file_bytes)
    _limit(resource.RLIMIT_NOFILE, limits.open_files)
    _limit(resource.RLIMIT_DATA, limits.memory_bytes)
    os.nice(limits.nice)
    keep_to_cores(limits.threads, parent_pid)
    state_threads(limits.threads)
    if sys.platform == "linux":
        _die_with(parent_pid)
    if protections()["no_network"]:
        _forbid_network(_MACHINES[platform.machine()])


def _limit(kind: int, value: int, top: int | None = None) -> None:
    _, hard = resource.getrlimit(kind)
    top = value if top is None else top
    top = top if hard == resource.RLIM_INFINITY else min(top, hard)
    resource.setrlimit(kind, (min(value, top), top))


def _prctl(option: int, *arguments: object) -> None:
    libc = ctypes.CDLL(None, use_errno=True)
    padded = [*arguments, 0, 0, 0, 0][:4]
    values = [ctypes.c_ulong(value) if isinstance(value, int) else value for value in padded]
    if libc.prctl(ctypes.c_int(option), *values) != 0:
        problem = ctypes.get_errno()
        raise OSError(problem, f"prctl({option}) refused: {os.strerror(problem)}")


def _die_with(parent_pid: int) -> None:
    _prctl(_PR_SET_PDEATHSIG, int(signal.SIGKILL))
    # The parent may have died before the line above.
    if os.getppid() != parent_pid:
        os.kill(os.getpid(), signal.SIGKILL)


class _Program(ctypes.Structure):
    _fields_ = (("length", ctypes.c_ushort), ("filter", ctypes.c_void_p))


def _forbid_network(machine: _Machine) -> None:
    code = ctypes.create_string_buffer(socket_filter(machine.audit_arch, machine.socket, machine.denied))
    program = _Program(len(code.raw[:-1]) // 8, ctypes.cast(code, ctypes.c_void_p))
    _prctl(_PR_SET_NO_NEW_PRIVS, 1)
    _prctl(_PR_SET_SECCOMP, _SECCOMP_MODE_FILTER, ctypes.byref(program))


def socket_filter(audit_arch: int, socket_number: int, denied: tuple[int, ...]) -> bytes:
    """Classic BPF program that leaves only UNIX sockets.

    Parameters
    ----------
    audit_arch : int
        ``AUDIT_ARCH_*`` of the machine; calls made through another one end the process.
    socket_number : int
        Number of the ``socket`` system call.
    denied : tuple of int
        System calls that always answer EPERM.

    Returns
    -------
    bytes
        Instructions of 8 bytes each (``struct sock_filter``).

    References
    ----------
    Linux, Documentation/userspace-api/seccomp_filter.rst and Documentation/networking/filter.rst.
    """
    # Every jump is one step over a return, so that no distance has to be counted.
    code = [
        (_LOAD_WORD, 0, 0, _AT_ARCH),
        (_JUMP_EQUAL, 1, 0, audit_arch),
        (_RETURN, 0, 0, _RET_KILL_PROCESS),
        (_LOAD_WORD, 0, 0, _AT_NUMBER),
        (_JUMP_AT_LEAST, 0, 1, _X32_BIT),
        (_RETURN, 0, 0, _RET_ERRNO_EPERM),
    ]
    for number in denied:
        code += [(_JUMP_EQUAL, 0, 1, number), (_RETURN, 0, 0, _RET_ERRNO_EPERM)]
    code += [
        (_JUMP_EQUAL, 1, 0, socket_number),
        (_RETURN, 0, 0, _RET_ALLOW),
        (_LOAD_WORD, 0, 0, _AT_FIRST_ARGUMENT),
        (_JUMP_EQUAL, 1, 0, int(socket.AF_UNIX)),
        (_RETURN, 0, 0, _RET_ERRNO_EPERM),
        (_RETURN, 0, 0, _RET_ALLOW),
    ]
    return b"".join(struct.pack("=HBBI", *step) for step in code)
