from __future__ import annotations

from whitenoise.storage import CompressedManifestStaticFilesStorage

_ending, _patterns = CompressedManifestStaticFilesStorage._js_module_import_aggregation_patterns
# `import("./x.js")` is how comments name a type of another module; rewritten like code, two modules that know
# each other's types would go round for ever. So modules are loaded by `import ... from` alone.
STATIC_IMPORTS = (_ending, tuple(pattern for pattern in _patterns if r"import\(" not in pattern[0]))


class HashedModules(CompressedManifestStaticFilesStorage):
    """Content-derived names for every static file, with the relative imports of ES modules rewritten to match."""

    support_js_module_import_aggregation = True
    _js_module_import_aggregation_patterns = STATIC_IMPORTS
