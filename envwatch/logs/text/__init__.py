"""Bytes to lines and cells: encodings, workbooks, words of headers, stamps."""
