"""Pages in HTML: templates that escape whatever the record says; printable, nothing fetched from anywhere."""

from __future__ import annotations

from functools import cache
from html import escape
from typing import TYPE_CHECKING, Any

from vesselspec.report.terminal import CAUTIONS, one_line

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

#: What a page may load: nothing but its own styles. A page with a script or pictures gives a wider one.
POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def text(said: str) -> str:
    """Text of the record as it may stand in HTML or SVG: nothing in it is markup."""
    return escape(one_line(said))


def css_string(said: str) -> Markup:
    """Text of the record as a string in a style: every character but letters and digits by its number."""
    from markupsafe import Markup  # noqa: PLC0415 - only pages need it

    plain = "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):06x}" for c in one_line(said))
    return Markup(f'"{plain}"')  # noqa: S704 - holds letters, digits and backslashes only


_OURS = "vesselspec.report"


def page(
    template: str,
    *,
    title: str,
    policy: str = POLICY,
    cautions: tuple[str, ...] = CAUTIONS,
    package: str = _OURS,
    **content: Any,
) -> str:
    """A template filled in. Every text is escaped and on one line; a name it lacks is an error.

    It is looked for in the `templates/` of `package`, then in those beside this file.
    """
    made = _environment(package).get_template(template)
    return made.render(title=title, policy=policy, cautions=cautions, **content)


@cache
def _environment(package: str) -> Environment:
    from jinja2 import ChoiceLoader, Environment, PackageLoader, StrictUndefined  # noqa: PLC0415 - only pages need it

    environment = Environment(
        loader=ChoiceLoader([PackageLoader(each) for each in dict.fromkeys((package, _OURS))]),
        autoescape=True,
        undefined=StrictUndefined,
        finalize=_shown,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    environment.filters["css_string"] = css_string
    return environment


def _shown(value: Any) -> Any:
    """A value in a template; markup that is ready (`Markup`) is a class of its own and stays."""
    return one_line(value) if type(value) is str else value
