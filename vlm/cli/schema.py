"""``foldspan schema``: the JSON Schema of the geometry file, and of what commands print."""

from pathlib import Path

import click

from vlm.cli.options import out_option


@click.command("schema")
@click.option(
    "--of", "name", metavar="COMMAND",
    help="Schema of what this command prints with --json, instead of the geometry file's; log-check"
    " for log --check, power-over for power --over.",
)  # fmt: skip
@out_option("File to write; standard output if left out.")
def command(name: str | None, out: Path | None) -> None:
    """Print the JSON Schema of a geometry file, or of the JSON that a command prints.

    Many editors take the first from a first line such as: #:schema foldspan.schema.json. In the
    others each number's unit stands as "unit", in the words of the list of quantities.
    """
    import json

    from vlm.description.schema import biplane_json_schema
    from vlm.study.schemas import document_schema

    schema = biplane_json_schema() if name is None else document_schema(name)
    text = json.dumps(schema, indent=2) + "\n"
    if out is None:
        click.echo(text, nl=False)
        return
    from vlm.disk import write_whole

    write_whole(out, text.encode())
    click.echo(f"wrote {out}", err=True)
