"""The words of the command line, one module per family of commands: parse, call one function, print."""
