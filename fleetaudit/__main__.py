"""Run the command line as `python -m fleetaudit`."""

from fleetaudit.cli.main import main

main()
