"""One module a notebook: widgets wired to the computation."""
