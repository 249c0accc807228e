"""Writers of what the bindings declare of the C interface, one file per language; headers reads it. See declare.py."""
