"""The command line: options, progress on a terminal, messages; one module a command.

The only package that knows click. `main` lists the commands, `options` has what several of them ask
for in the same words. No arithmetic: a command makes a request, hands it to a study and says what
came out.
"""
