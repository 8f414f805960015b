"""Every loophole of safety, by every door: the table is the spec, the attempts its proof."""

import pytest

pytest.register_assert_rewrite(*(f"{__name__}.{module}" for module in ("world", "by_page", "by_hand", "by_book")))
