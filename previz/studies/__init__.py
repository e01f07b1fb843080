"""One use case a module: a request in, a result out that has its numbers as rows and a sheet.

`render`, `compare`, `study`, `match`, `times`, `haze`, `portrait`, `mood`, `meter`, `block`: each
renders what it needs through `rendering` and measures through `exposure`. A new one is a module here,
a sheet in `deliver` and a command in `cli`. Nothing here prints or knows an option of the command line.
"""
