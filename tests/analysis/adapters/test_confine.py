"""The socket filter for machines that are not at hand, read by a second, slow interpreter of classic BPF.

Instruction codes: Linux, Documentation/networking/filter.rst; `struct seccomp_data` (number at 0, architecture at 4,
arguments from 16) and return values: Documentation/userspace-api/seccomp_filter.rst and linux/seccomp.h.
System call numbers: the kernel's tables for x86-64 and for arm64 (asm-generic/unistd.h).
"""

from __future__ import annotations

import socket
import struct

import pytest

from analysis.adapters import confine

pytestmark = pytest.mark.unit

ALLOW, DENY, KILL = 0x7FFF0000, 0x00050001, 0x80000000
X86_64, AARCH64, I386 = 0xC000003E, 0xC00000B7, 0x40000003


def run(program: bytes, *, arch: int, number: int, first: int = 0) -> int:
    data = struct.pack("=IIQQ", number, arch, 0, first) + bytes(40)
    steps = [struct.unpack_from("=HBBI", program, at) for at in range(0, len(program), 8)]
    accumulator, at = 0, 0
    while True:
        code, if_true, if_false, value = steps[at]
        at += 1
        if code == 0x20:  # BPF_LD | BPF_W | BPF_ABS
            accumulator = struct.unpack_from("=I", data, value)[0]
        elif code == 0x15:  # BPF_JMP | BPF_JEQ | BPF_K
            at += if_true if accumulator == value else if_false
        elif code == 0x35:  # BPF_JMP | BPF_JGE | BPF_K
            at += if_true if accumulator >= value else if_false
        elif code == 0x06:  # BPF_RET | BPF_K
            return value
        else:
            raise AssertionError(f"unknown instruction {code:#x}")


@pytest.mark.parametrize(
    "machine, arch, calls",
    [
        (
            "x86_64",
            X86_64,
            {"socket": 41, "read": 0, "execve": 59, "connect": 42, "ptrace": 101, "io_uring_setup": 425},
        ),
        (
            "aarch64",
            AARCH64,
            {"socket": 198, "read": 63, "execve": 221, "connect": 203, "ptrace": 117, "io_uring_setup": 425},
        ),
    ],
)
def test_only_unix_sockets_pass(machine: str, arch: int, calls: dict[str, int]) -> None:
    chosen = confine._MACHINES[machine]
    program = confine.socket_filter(chosen.audit_arch, chosen.socket, chosen.denied)
    assert run(program, arch=arch, number=calls["socket"], first=socket.AF_UNIX) == ALLOW
    for family in (socket.AF_INET, 10, 16, 17, 40):  # IPv4, IPv6, netlink, packet, vsock
        assert run(program, arch=arch, number=calls["socket"], first=family) == DENY
    for name in ("read", "execve", "connect"):
        assert run(program, arch=arch, number=calls[name]) == ALLOW
    for name in ("ptrace", "io_uring_setup"):
        assert run(program, arch=arch, number=calls[name]) == DENY
    assert run(program, arch=I386, number=359, first=2) == KILL, (
        "another architecture's numbers are no way round"
    )
    assert run(program, arch=arch, number=0x40000000 + 41, first=2) == DENY, "nor is the x32 interface"
    assert len(program) % 8 == 0
