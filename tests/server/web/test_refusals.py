"""A value that its type does not take is refused in a sentence of ours: what, where, what to write instead."""

from typing import Any, Literal

import pytest
from pydantic import Field, TypeAdapter, ValidationError

import server.web.app  # noqa: F401  # with all routes
from server.web.refusals import of_invalid
from server.web.settings_models import Strict


class Wanted(Strict):
    """One field of each kind that routes take."""

    code: str = Field("", max_length=4, min_length=0)
    name: str = Field("abc", min_length=2)
    amps: float = Field(1.0, gt=0.0, le=8.0, allow_inf_nan=False)
    limit: float = Field(1.0, le=8.0)
    count: int = Field(1, ge=1, lt=9)
    which: Literal["one", "other"] = "one"
    held: bool = False
    rows: list[int] = Field([1], min_length=1, max_length=2)
    three: tuple[str, str, str] = ("", "", "")
    by_name: dict[str, int] = Field(default_factory=dict)


@pytest.mark.parametrize(
    ("given", "sentence"),
    [
        ({"code": "x" * 57}, "code: these are too many characters (57); write 4 at most."),
        ({"name": "x"}, "name: these are too few characters (1); write 2 or more."),
        ({"name": ""}, "name: this is empty; write something."),
        ({"amps": 0.0}, "amps: 0.0 is too little; write more than 0.0."),
        ({"amps": 9}, "amps: 9 is too much; write 8.0 or less."),
        ({"amps": float("nan")}, "amps: this is no number to reckon with; write a finite one."),
        ({"limit": "NaN"}, "limit: this is no number to reckon with; write a finite one."),
        ({"amps": "much"}, "amps: this is not a number; write it without a unit."),
        ({"count": 0}, "count: 0 is too little; write 1 or more."),
        ({"count": 9}, "count: 9 is too much; write less than 9."),
        ({"which": "none{}\u001b"}, "which: \"none{}\" is none of what this can be; write 'one' or 'other'."),
        ({"held": "perhaps"}, "held: this is neither true nor false; write one of them."),
        ({"rows": []}, "rows: this is empty; write something."),
        ({"rows": [1, 2, 3]}, "rows: 3 are too many; write 2 at most."),
        ({"rows": 3}, "rows: this is no list; write it as a list."),
        ({"three": ["a", "b"]}, "three.2: this is missing; write it."),
        ({"by_name": 3}, "by_name: this is no object; write keys with their values."),
        ({"code": 3}, "code: this is no text; write it as text."),
        ({"cod": ""}, "cod: there is nothing of this name here; leave it out or mend its name."),
        ([], "the request: this is no object; write keys with their values."),
    ],
)
def test_what_is_wrong_is_said_with_its_place_and_what_to_write(given: object, sentence: str) -> None:
    with pytest.raises(ValidationError) as refused:
        TypeAdapter(Wanted).validate_python(given)
    first = refused.value.errors()[0]
    assert of_invalid(first, first["loc"]).sentence == sentence


WRONG: tuple[Any, ...] = (
    None,
    "x" * 5000,
    -1e9,
    1e9,
    1.5,
    float("nan"),
    [],
    {},
    [None] * 500,
    {"no_such_key": 1},
    b"\xff",
)


def _taken(model: type[Strict] = Strict) -> list[type[Strict]]:
    """All models that requests are read into, those within others too."""
    its = [each for each in model.__subclasses__() if each.__module__.startswith("server.")]
    return its + [inner for each in its for inner in _taken(each)]


def test_no_route_answers_in_the_words_of_the_library() -> None:
    assert len(_taken()) > 20
    told = set[str]()
    for taken, name, wrong in [
        (each, name, wrong) for each in _taken() for name in each.model_fields for wrong in WRONG
    ]:
        try:
            taken.model_validate({name: wrong})
        except ValidationError as refused:
            sentences = [of_invalid(error, error["loc"]).sentence for error in refused.errors()]
            told |= {each for each in sentences if "should" in each or "Input" in each or "valid" in each}
    assert not told
