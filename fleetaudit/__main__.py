"""Run the command line as `python -m fleetaudit`."""

from fleetaudit.cli.process import run

run()
