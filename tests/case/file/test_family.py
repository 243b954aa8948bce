"""[[family]] in one case file: each member is the case itself with what it says laid over it."""

import pytest
from numpy.testing import assert_allclose
from places import CASES

from thermsim import case_from_text
from thermsim.case.file.reader import read_family
from thermsim.errors import CaseError

TEXT = (CASES / "can.toml").read_text("utf-8")
FAMILY = """
[[family]]
name = "as it is"
[[family]]
name = "low, in inches"
container = { inner_height_in = 3.0 }
fill = { height_mm = 60.0 }
[[family]]
name = "trade size"
container = { size = "307x409" }
"""


def test_members_differ_by_what_they_say(tmp_path):
    path = tmp_path / "cans.toml"
    path.write_text(TEXT + FAMILY, "utf-8")
    itself = case_from_text(TEXT)
    same, low, traded = read_family(path)
    assert (same.member, low.member) == ("as it is", "low, in inches")
    assert (same.container, same.fill_height) == (itself.container, itself.fill_height)
    assert_allclose([low.container.inner_height, low.fill_height], [0.0762, 0.060], rtol=1e-12)
    assert low.container.profile.widest == itself.container.profile.widest
    # 3 7/16 in less 3 mm, as for the size alone
    assert_allclose(2 * traded.container.profile.widest, 3.4375 * 0.0254 - 0.003, rtol=1e-12)
    # a member is read again from its own text, as a results file holds it
    again = case_from_text(low.text, name="cans.toml")
    assert (again.member, again.fill_height) == (low.member, low.fill_height)
    assert low.title.endswith(": low, in inches")


def test_a_file_without_a_family_is_the_case_itself():
    (case,) = read_family(CASES / "can.toml")
    assert case.member == ""


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('name = "as it is"', "", "name is missing"),
        ('name = "as it is"', 'name = "trade size"', "taken by another member"),
        ('name = "as it is"', 'name = "as it is"\nfil = { height_mm = 3 }', 'did you mean "fill"'),
        ('name = "as it is"', 'name = "as it is"\nfill = 3', "must be a table"),
    ],
)
def test_a_family_at_fault_is_refused(old, new, said):
    with pytest.raises(CaseError, match=said):
        case_from_text(TEXT + FAMILY.replace(old, new))


@pytest.mark.parametrize("family", ['[{ name = "as it is" }, 3]', "[3]", '{ name = "as it is" }'])
def test_a_family_that_is_no_list_of_tables_is_refused(family):
    with pytest.raises(CaseError, match=r"family is not a list of tables; write \[\[family\]\] before each member"):
        case_from_text(f"family = {family}\n{TEXT}")


def test_a_member_that_is_not_there_is_refused():
    with pytest.raises(CaseError, match="is none of the family"):
        case_from_text('member = "tall"\n' + TEXT + FAMILY)
