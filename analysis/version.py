"""What identifies a result: the code's version and the digest of the models it used."""

from __future__ import annotations

import hashlib

from analysis.adapters.digests import SHA256

ANALYSIS_VERSION = "1.8.0"


def model_digest() -> str:
    """Short digest over all vendored models: 16 hexadecimal digits, changes when any model does."""
    text = "\n".join(f"{name} {digest}" for name, digest in sorted(SHA256.items()))
    return hashlib.sha256(text.encode()).hexdigest()[:16]
