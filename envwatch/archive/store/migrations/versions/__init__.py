"""One file a change. A file that has been released is never edited: the next change is a new file."""
