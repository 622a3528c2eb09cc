"""``foldspan schema``: the JSON Schema of the geometry file."""

from pathlib import Path

import click

from vlm.cli.options import out_option


@click.command("schema")
@out_option("File to write; standard output if left out.")
def command(out: Path | None) -> None:
    """Print the JSON Schema of a geometry file, from which editors complete keys.

    Many editors take it from a first line such as: #:schema foldspan.schema.json
    """
    import json

    from vlm.description.schema import biplane_json_schema

    text = json.dumps(biplane_json_schema(), indent=2) + "\n"
    if out is None:
        click.echo(text, nl=False)
        return
    from vlm.disk import write_whole

    write_whole(out, text.encode())
    click.echo(f"wrote {out}", err=True)
