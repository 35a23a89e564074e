"""Drawing libraries of others, kept unchanged, each with its licence; see ``VENDORED.json``."""
