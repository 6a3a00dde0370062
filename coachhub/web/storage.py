from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage


class HashedModules(CompressedManifestStaticFilesStorage):
    """Content-derived names for every static file, with the relative imports of ES modules rewritten to match."""

    support_js_module_import_aggregation = True
