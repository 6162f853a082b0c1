"""What is malformed is said in words that fit the body."""

from typing import Annotated

import pytest
from pydantic import BaseModel, ConfigDict, Field, ValidationError

from service.custody.events import EVENT
from service.custody.fields import Name
from service.custody.site import Id
from service.duties.wording import in_words, malformed


class Order(BaseModel):
    """A body that is no event."""

    model_config = ConfigDict(extra="forbid")

    name: Name = "tablet"
    unit: Id = "icu"
    some: Annotated[list[str], Field(max_length=1)] = []


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"colour": "red"}, "colour is not a field of this body"),
        ({"lost": "red"}, "lost is not a field of this body"),
        ({"name": ""}, "name must have at least 1 character"),
        ({"name": "a\nb"}, "name holds a control character"),
        ({"unit": "ICU 3"}, "unit is no id: small letters, digits and hyphens, 63 at most"),
        ({"some": ["a", "b"]}, "some must have at most 1 item after validation, not 2"),
        ([], "it must be an object"),
    ],
)
def test_of_a_body_that_is_no_event(body: object, said: str) -> None:
    """Each fault with its field."""
    with pytest.raises(ValidationError) as refused:
        Order.model_validate(body)
    [fault] = refused.value.errors()
    assert in_words(fault["type"], fault["loc"], fault["msg"]) == said


def test_of_an_event() -> None:
    """The kind, by which the checking library tells them apart, is no part of the field's name."""
    with pytest.raises(ValidationError) as refused:
        EVENT.validate_python({"kind": "lost", "colour": "red"})
    said = malformed(refused.value).split("; ")
    assert "colour is not a field of this kind of event" in said
    assert "occurred_at is missing" in said
