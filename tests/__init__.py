"""All tests of the project; `python -m tests` runs them the way `make test` does."""
