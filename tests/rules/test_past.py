"""What the rule on old evidence takes for decisive is what the network is made of."""

from __future__ import annotations

from vesselspec.model.forms import specs
from vesselspec.model.items import Section, Way
from vesselspec.model.vessel import COLLECTIONS
from vesselspec.rules.evidence import WIRING
from vesselspec.rules.past import SEEN


def test_every_decisive_field_is_one_of_the_record() -> None:
    classes = [Section, Way]
    for name in set(SEEN) & COLLECTIONS.keys():
        holds = COLLECTIONS[name]
        classes += [holds] if isinstance(holds, type) else holds.values()
    assert {spec.key for cls in classes for _, spec in specs(cls)} >= WIRING
