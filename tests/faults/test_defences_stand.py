"""Every defence of `undefended` stands where its list says, and so do its tests; taking them out is for that script."""

from __future__ import annotations

import pytest

from tests.faults.undefended import DEFENCES, ROOT, Defence


@pytest.mark.parametrize("defence", DEFENCES, ids=lambda defence: defence.threat)
def test_a_defence_stands_where_it_is_said_to(defence: Defence) -> None:
    assert defence.piece in (ROOT / defence.file).read_text(encoding="utf-8")
    assert defence.piece != defence.without
    path, _, rest = defence.tests.partition("::")
    tests = (ROOT / path.partition(" -k ")[0]).read_text(encoding="utf-8")
    assert rest.partition("[")[0] in tests
