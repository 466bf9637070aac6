"""`vesselspec tidy`: a record's files put in order, and no word changed."""

from __future__ import annotations

from pathlib import Path

import click

from vesselspec.cli.common import vessel_argument
from vesselspec.cli.editing import finish, not_edited, opened, output_option
from vesselspec.cli.status import FINDINGS
from vesselspec.cli.writing import dry_run_option, overwrite_option, rewrites
from vesselspec.revisions import RevisionError


@click.command("tidy")
@vessel_argument()
@click.option("--check", is_flag=True, help="Write nothing; exit status 1 if anything would change. For CI.")
@dry_run_option()
@overwrite_option()
@output_option()
def command(vessel: Path, check: bool, dry_run: bool, overwrite_uncommitted: bool, output: str) -> int:
    """Put the files of VESSEL (a folder; default: here) in order, so that a diff shows what was done on board.

    Spacing: no blanks at the end of a line, at most one blank line in a row, one line ending at the end of a file.
    Order: the collections as the schema lists them; of an entry with one field on a line its fields: kind, name,
    formerly, its own, then note, photos and evidence, then what it holds. A note directly under the name stays there.

    Order and comments belong to the owner: entries stay in the order in which they stand, nothing goes to another
    file, what is written in braces is not touched, nor are indentation, quotes, anchors and line endings. A comment
    goes along with what it stands above. Where it is not clear what a comment belongs to (a heading, a comment above
    the first of several fields), nothing moves past it; such places are listed, and are no reason for --check to fail.

    Each file is read again and must say the same in the same lines, else it is left. Run twice, it changes nothing.
    """
    from vesselspec.record import Place
    from vesselspec.record.tidying import tidied
    from vesselspec.report.editing import Edited

    record = opened(vessel)
    if isinstance(record, tuple):
        return not_edited("tidy", *record, output)
    made = {file: tidied(content) for file, content in record.files.items()}
    new = {file: each.content for file, each in made.items()}
    changed = [each.file for each in rewrites(record.files, new)]
    if record.again({file: new[file] for file in changed}) != record.vessel:
        raise RevisionError("Nothing was written: the record would say something else.", "Put it in order by hand.")
    only_look = check or dry_run
    count = f"{len(changed)} of {len(new)} file{'' if len(new) == 1 else 's'}"
    done = "would be" if only_look else "was" if len(changed) == 1 else "were"
    edited = Edited(
        "tidy",
        record.vessel.about.name,
        written=False,
        said=(f"{count} {done} put in order." if changed else "All is in order.",),
        left=tuple((Place(file, line), text) for file, each in made.items() for line, text in each.left),
        left_title="Left in its order, for it is not clear what a comment there belongs to:",
    )
    status = finish(
        edited,
        record.folder,
        record.files,
        new,
        dry_run=only_look,
        overwrite_uncommitted=overwrite_uncommitted,
        output=output,
    )
    return FINDINGS if check and changed else status
