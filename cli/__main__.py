"""Run the command line as ``python -m barwright.cli``."""

from .app import main

main()
