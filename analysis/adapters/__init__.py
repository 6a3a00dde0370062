"""The only place that opens files and models."""
