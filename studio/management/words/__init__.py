"""The catalogues of words: collected from code and templates, written, compiled. No tools needed."""
