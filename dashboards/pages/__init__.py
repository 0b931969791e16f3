"""One file a page: read clicks, call one function, show the result."""
