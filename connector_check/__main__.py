"""`python -m connector_check`."""

from connector_check.cli.commands import main

main(prog_name="connector-check")
