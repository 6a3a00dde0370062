"""The demo camp: an invented story, played through the same verbs that people use."""
