"""What all tests share: a data folder of their own, and hypothesis without deadlines, for machines that are busy."""

from __future__ import annotations

import os
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

from companion.resources import DATA_VARIABLE

settings.register_profile("usual", deadline=None, max_examples=60, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("ci", settings.get_profile("usual"), derandomize=True, print_blob=True)
settings.register_profile("long", settings.get_profile("usual"), max_examples=1000)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci" if os.environ.get("CI") else "usual"))


@pytest.fixture(autouse=True, scope="session")
def own_data_folder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """No test sees or changes what belongs to whoever runs it; processes that a test starts inherit this."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(DATA_VARIABLE, str(tmp_path_factory.mktemp("data")))
        patch.delenv("COMPANION_DEBUG", raising=False)
        yield
