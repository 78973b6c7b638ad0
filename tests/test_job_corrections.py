"""The job's corrections and regularities: read into what the tracing takes, mistakes named."""

import pytest

from shapecut.errors import JobFileError
from shapecut.job.reading import job_from_text
from shapecut.trace.correction import KnownLength, MovedCorner, OneEdge, Shadow

JOB = """
[template]
photos = ["one.jpg"]
{template}
[boards]
width = "140 mm"
[stock]
lengths = [{{ length = "3 m" }}]
{more}
"""


def job(more="", template=""):
    return job_from_text(JOB.format(template=template, more=more))


def correction(text):
    (table,) = job(f"[[corrections]]\n{text}").corrections
    return table.correction


@pytest.mark.parametrize(
    ("text", "value"),
    [
        (
            'move = "E3/E4"\nto = ["1.2 m", "-3 mm"]',
            MovedCorner("E3/E4", to=(1200.0, -3.0)),
        ),
        (
            'move = "E3/E4"\nby = ["\N{MINUS SIGN}1/2 in", "0 mm"]',
            MovedCorner("E3/E4", by=(-12.7, 0.0)),
        ),
        ('one = ["E3", "E5"]', OneEdge(("E3", "E5"))),
        ('shadow = "E3"', Shadow("E3")),
        (
            'shadow = "E3"\ncorner = "E2/E3"\nwithin = ["10 mm", "5 cm"]',
            Shadow("E3", "E2/E3", (10.0, 50.0)),
        ),
        ('length = "1.2 m"\nof = "E3"', KnownLength(("E3",), 1200.0, 1.0)),
        (
            'length = "1.2 m"\nof = ["E1/E2", "E3/E4"]\nu = "2 mm"',
            KnownLength(("E1/E2", "E3/E4"), 1200.0, 2.0),
        ),
    ],
)
def test_each_kind_of_correction_is_read(text, value):
    assert correction(text) == value


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ('move = "E3/E4"', "corrections.0: move needs either to or by"),
        ('move = "E3/E4"\none = ["E1", "E2"]', "exactly one of move, one, two, shadow"),
        ('shadow = "E3"\nby = ["1 mm", "1 mm"]', "by belongs to move"),
        ('shadow = "E3"\nwithin = ["1 mm", "2 mm"]', "both corner and within"),
        ('one = ["E1"]', "two edges or more"),
        ('length = "1.2 m"', "an edge, or two corners"),
        ('move = "E3/E4"\nto = ["12", "1 mm"]', "not a length|no unit|unit"),
        ('moves = "E3/E4"', "did you mean move"),
    ],
)
def test_mistakes_are_named_with_their_key(text, sentence):
    with pytest.raises(JobFileError, match=sentence):
        correction(text)


def test_regularities_are_read_and_written_back_as_stated():
    stated = job(template='regular = ["E2  square to E3", "E1 as long as E5"]')
    assert stated.model_dump(mode="json")["template"]["regular"] == [
        "E2 square to E3",
        "E1 as long as E5",
    ]


def test_what_is_no_regularity_is_answered_with_those_there_are():
    with pytest.raises(JobFileError, match=r"template.regular.0 = .* \"parallel to\""):
        job(template='regular = ["E2 at right angles to E3"]')


def test_a_given_outline_is_corrected_in_its_own_file():
    text = JOB.replace('photos = ["one.jpg"]', 'outline = "outline.json"')
    with pytest.raises(JobFileError, match="change the given outline itself"):
        job_from_text(text.format(template="", more='[[corrections]]\nshadow = "E3"'))
