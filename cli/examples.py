"""What to type: an example of each command, and what comes after it."""

from __future__ import annotations

from inspect import getdoc

import typer

# In the order of a job: from the bore to the sheet, then what makes the answer better.
EXAMPLES = {
    "new": ("barwright new barrel.yaml", "barwright check barrel.yaml"),
    "plan": (
        "barwright plan cases/jobs/pump_barrel.yaml",
        "print the sheet; barwright compare results/pump_barrel/case.yaml",
    ),
    "check": ("barwright check cases/pump_bracket.yaml", "barwright run, on the same case"),
    "run": (
        "barwright run cases/pump_bracket.yaml",
        "print the sheet; barwright compare, speeds or study, on the same case",
    ),
    "sheet": (
        "barwright sheet results/pump_barrel --paper letter",
        "after the first pass, barwright log",
    ),
    "report": ("barwright report results/pump_barrel", "open report.html in a browser"),
    "compare": (
        "barwright compare results/pump_barrel/case.yaml",
        "barwright report, which takes this in",
    ),
    "speeds": (
        "barwright speeds results/pump_barrel/case.yaml",
        "put the speed into the case; barwright run",
    ),
    "study": (
        "barwright study results/pump_barrel/case.yaml --samples 1024",
        "barwright fit --design, on the same case",
    ),
    "tap": ("barwright tap sideways.wav", "barwright fit --tap sideways.wav, on the case"),
    "fit": (
        "barwright fit cases/pump_bracket.yaml --push cases/readings/push_test.csv",
        "the same with --write; barwright run",
    ),
    "log": (
        "barwright log cases/pump_bracket.yaml --bores cases/readings/bores.csv",
        "the next pass, and its line in the table",
    ),
    "trouble": (
        "barwright trouble results/pump_barrel/case.yaml chatter",
        "change one thing in the case; barwright run",
    ),
    "explain": ("barwright explain gain margin", "barwright explain, which lists the words"),
    "materials": ("barwright materials", "a name from it in the case: bar: material:"),
    "schema": (
        "barwright schema > case.schema.json",
        "name it in the first line of a case, as the shipped ones do",
    ),
    "where": ("barwright where", "barwright where --clear, if room on the disk is short"),
    "verify": ("barwright verify", "barwright run"),
}


def put_in(app: typer.Typer) -> None:
    """Put the commands into the order of a job, each with its example below its first words."""
    order = list(EXAMPLES)
    for command in app.registered_commands:
        assert command.callback is not None
        command.name = command.callback.__name__
        first, _, rest = (getdoc(command.callback) or "").partition("\n\n")
        example, after = EXAMPLES[command.name]
        command.help = f"{first}\n\n\b\nExample: {example}\nNext:    {after}\n\n{rest}"
    app.registered_commands.sort(key=lambda command: order.index(command.name or ""))
