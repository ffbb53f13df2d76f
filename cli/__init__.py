"""The command line of barwright."""
