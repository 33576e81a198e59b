"""A store that is deleted or replaced under a running write is told, and is no success."""

from __future__ import annotations

import shutil

import pytest

from taskdb.errors import StoreUnusableError
from taskdb.store.engine import NewOperation, open_store

OPERATION = NewOperation("2027-05-01T08:00:00Z", "librarian", "test")


@pytest.mark.parametrize("replaced", [False, True])
def test_a_store_that_goes_while_it_is_written_is_no_success(tmp_path, replaced):
    path = tmp_path / "store.db"
    with open_store(str(path)).writing(OPERATION):
        pass
    copy = shutil.copyfile(path, tmp_path / "copy.db")
    with pytest.raises(StoreUnusableError) as refused, open_store(str(path)).writing(OPERATION):
        path.unlink()
        if replaced:
            shutil.copyfile(copy, path)
    assert refused.value.code == "store-gone"
