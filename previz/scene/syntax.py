"""What the YAML parser refuses, put so that a person knows what to do."""

from __future__ import annotations

import yaml

from previz.errors import Problem

# What the parser says, and what a person can do about it.
_ADVICE = {
    "mapping values are not allowed here": (
        "a ':' stands where no field can begin",
        "Start the field on a line of its own, or put text that has ': ' in it in quotes.",
    ),
    "could not find expected ':'": (
        "a ':' is missing after a field's name before this",
        "Write 'name: value', with a space after the ':'.",
    ),
    "expected <block end>, but found '<block mapping start>'": (
        "this line is not indented like the lines that it belongs with",
        "Give all fields of one thing the same indentation.",
    ),
    "expected <block end>, but found '<block sequence start>'": (
        "this line is not indented like the lines that it belongs with",
        "Give all '-' of one list the same indentation.",
    ),
    "expected ',' or ']', but got": (
        "the list in '[ ]' does not go on or end here as it should",
        "Put a ',' between its values and a ']' at its end.",
    ),
    "expected ',' or '}', but got": (
        "the fields in '{ }' do not go on or end here as they should",
        "Put a ',' between the fields, a '}' at the end, and text that has a '#', '{' or ',' in "
        "it in quotes.",
    ),
    "expected <block end>, but found": (
        "this does not belong to what stands above it",
        "Check its indentation, and that a list's '-' and fields are not mixed.",
    ),
    "found character '\\t' that cannot start any token": (
        "the line is indented with a tab",
        "Indent with spaces.",
    ),
    "found character": (
        "a text cannot begin with this character",
        "Put the text in quotes.",
    ),
    "expected the node content, but found '<stream end>'": (
        "the file ends inside a list or a group of fields",
        "Close the bracket that was left open.",
    ),
    "expected the node content": (
        "a value is missing before this",
        "Write the value, or put text that begins with a special character in quotes.",
    ),
    "expected '<document start>'": (
        "this does not belong to what stands above it",
        "Check its indentation, and that a list's '-' and fields are not mixed.",
    ),
    "sequence entries are not allowed here": (
        "a '-' stands where no list can begin",
        "Begin the list on a line of its own.",
    ),
    "mapping keys are not allowed here": (
        "a '?' stands where no field can begin",
        "Put text that begins with '?' in quotes.",
    ),
    "expected alphabetic or numeric character": (
        "an '&' or '*' has no name after it",
        "Put text that begins with '&' or '*' in quotes.",
    ),
    "found unexpected end of stream": (
        "a quoted text does not end",
        "Close it with the quote that it began with.",
    ),
    "found undefined alias": (
        "'*' names something that no '&' before it has named",
        "Put text that begins with '*' in quotes.",
    ),
    "second occurrence": (
        "an '&' before this one gives the same name",
        "Give each '&' a name of its own.",
    ),
    "found incompatible YAML document": (
        "this asks for a version of YAML that is not read",
        "Leave out the line that begins with '%YAML'.",
    ),
    "but found another document": (
        "a second document begins here",
        "Keep one scene in a file: take out the '---'.",
    ),
}


def problem_of(error: yaml.MarkedYAMLError, shown: str, lines: list[str]) -> Problem:
    """Return what the parser found, as a person would say it.

    Parameters
    ----------
    error : MarkedYAMLError
        From the parser; an `advice` of its own is kept.
    shown : str
        What messages call the file.
    lines : list of str
        The file.
    """
    # A text that never ends is better shown where it begins.
    endless = error.problem == "found unexpected end of stream"
    mark = error.context_mark if endless else error.problem_mark or error.context_mark
    line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
    message, advice = error.problem or "this is not YAML", getattr(error, "advice", "")
    if not advice:
        for start, known in _ADVICE.items():
            if message.startswith(start):
                message, advice = known
                break
        else:
            message = f"this is not YAML: {message}"
            advice = "Put text with special characters in quotes, and check the line before."
    opened = error.context_mark
    if "'[ ]'" in message or "'{ }'" in message:
        advice = f"It begins on line {opened.line + 1}. {advice}"
    source_line = lines[line - 1] if line <= len(lines) else ""
    return Problem(shown, line, column, message, advice, source_line)


def problem_of_character(error: yaml.reader.ReaderError, text: str, shown: str) -> Problem:
    """Return the problem of a character that YAML does not allow; `shown` is what messages call the file."""
    # The reader counts from the start of the text that it was given.
    before = text[: error.position]
    line = before.count("\n") + 1
    column = error.position - (before.rfind("\n") + 1) + 1
    source_line = text[error.position - column + 1 :].split("\n", 1)[0]
    message = f"the character U+{ord(text[error.position]):04X} cannot stand in a scene file"
    return Problem(shown, line, column, message, "Delete it.", source_line)
