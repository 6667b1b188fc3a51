"""Commands: thin layers over the functions of the package."""
