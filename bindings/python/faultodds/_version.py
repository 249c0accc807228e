"""The C header version this binding was written against; newer libraries of SOVERSION 1 serve too."""

BINDING_VERSION = "0.1.0"
