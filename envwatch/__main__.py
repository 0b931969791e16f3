"""`python -m envwatch`."""

from envwatch.cli import main

main()
