"""Making rendered swings and training the shaft network on them; no part of the product imports this.

The pure parts (swing, camera, labels, confidence fit) need numpy only. Rendering needs ``moderngl`` and
training needs ``torch`` and ``onnx`` (the extra ``training`` in pyproject.toml); they are imported where they
are used. ``README.md`` in this folder says what is where and how to run it.
"""
