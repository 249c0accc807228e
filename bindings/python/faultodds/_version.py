"""The C header version this binding was written against; newer libraries of SOVERSION 2 serve too."""

BINDING_VERSION = "0.2.0"
