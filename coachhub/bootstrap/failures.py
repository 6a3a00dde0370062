"""What can go wrong while setting up, each as one sentence and what to do next."""

from __future__ import annotations

NETWORK_MARKS = (
    "temporary failure in name resolution",
    "name or service not known",
    "nodename nor servname provided",
    "failed to establish a new connection",
    "network is unreachable",
    "no route to host",
    "connection refused",
    "connection reset",
    "timed out",
    "timeout",
    "dns error",
    "error sending request",
    "failed to fetch",
    "could not resolve",
    "enotfound",
    "econnrefused",
    "eai_again",
)
DISK_MARKS = ("no space left on device", "disk quota exceeded", "enospc", "os error 28")
HASH_MARKS = ("do not match the hashes", "hash mismatch", "eintegrity")
PLATFORM_MARKS = (
    "no matching distribution found",
    "no wheels with a matching",
    "has no usable wheels",
    "not a supported wheel",
)
PERMISSION_MARKS = ("permission denied", "read-only file system", "operation not permitted")


class SetupError(Exception):
    """Setting up stopped. `what` says what happened, `todo` what to do next."""

    def __init__(self, what: str, todo: str) -> None:
        super().__init__(what)
        self.what = what
        self.todo = todo

    def __str__(self) -> str:
        return f"{self.what}\nWhat to do: {self.todo}"


def no_network(doing: str) -> SetupError:
    return SetupError(
        f"{doing} did not work: the package index can't be reached from this machine.",
        "check the network (and the proxy settings, if there is one), then run the same command again; "
        "what has been installed so far is kept.",
    )


def disk_full(doing: str) -> SetupError:
    return SetupError(
        f"{doing} did not work: the disk is full.",
        "free about 2 GB where the project lies, then run the same command again.",
    )


def hash_mismatch(doing: str) -> SetupError:
    return SetupError(
        f"{doing} was stopped: a downloaded file is not the one that was pinned (its hash differs).",
        "run the same command again; if it happens twice, the package index or a proxy serves altered files: "
        "don't go on, ask whoever runs it.",
    )


def no_build(doing: str) -> SetupError:
    return SetupError(
        f"{doing} did not work: one of the libraries has no ready-made build for this system and Python.",
        "use a 64-bit Linux with glibc (Debian 12 or newer, Ubuntu 22.04 or newer) or macOS, "
        "and Python 3.11 to 3.13.",
    )


def not_allowed(doing: str) -> SetupError:
    return SetupError(
        f"{doing} did not work: the project's folder can't be written to.",
        "run it as the user who owns the folder, or copy the project to a folder of your own.",
    )


def explain(output: str, doing: str, log: str) -> SetupError:
    """The sentence for what an installer printed."""
    text = output.lower()
    kinds = (
        (DISK_MARKS, disk_full),
        (HASH_MARKS, hash_mismatch),
        (NETWORK_MARKS, no_network),
        (PLATFORM_MARKS, no_build),
        (PERMISSION_MARKS, not_allowed),
    )
    for marks, sentence in kinds:
        if any(mark in text for mark in marks):
            return sentence(doing)
    last = output.strip().splitlines()[-1:] or ["(it printed nothing)"]
    return SetupError(
        f"{doing} did not work. Its last words: {last[0].strip()}", f"read {log}, then run it again."
    )
