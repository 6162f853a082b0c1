"""Request bodies read strictly: JSON as RFC 8259 has it, no name twice, no number that is none."""

import json
from decimal import Decimal
from typing import Any, NoReturn, TypeVar

from pydantic import BaseModel, ValidationError

from service.api.problems import UnfitError, unfit

ModelT = TypeVar("ModelT", bound=BaseModel)


def parse(raw: bytes) -> Any:
    """Read a body; numbers with a fraction stay exact.

    Raises:
        UnfitError: it is no JSON, or a name stands twice in one object.
    """
    try:
        return json.loads(
            raw.decode("utf-8-sig"),
            parse_float=Decimal,
            parse_constant=_no_number,
            object_pairs_hook=_named_once,
        )
    except UnicodeDecodeError as error:
        raise UnfitError(f"the body is not UTF-8: byte {error.start} cannot be read") from error
    except json.JSONDecodeError as error:
        where = f"line {error.lineno}, column {error.colno}"
        raise UnfitError(f"the body is not JSON: {error.msg.lower()} at {where}") from error
    except RecursionError as error:
        raise UnfitError("the body is nested too deeply") from error
    except ValueError as error:
        raise UnfitError("a number in the body has too many digits") from error


def read_as(model: type[ModelT], submitted: Any) -> ModelT:
    """Check a body that was read.

    Raises:
        UnfitError: it does not say what the model asks for.
    """
    try:
        return model.model_validate(submitted)
    except ValidationError as error:
        raise unfit(error) from error


def schema(
    name: str, *, examples: dict[str, Any], media: str = "application/json"
) -> dict[str, Any]:
    """Give the OpenAPI entry of a body that has this component for its schema."""
    shown = {title: {"value": value} for title, value in examples.items()}
    content = {"schema": {"$ref": f"#/components/schemas/{name}"}, "examples": shown}
    return {"requestBody": {"required": True, "content": {media: content}}}


def _no_number(name: str) -> NoReturn:
    raise UnfitError(f"the body is not JSON: {name} is no number there")


def _named_once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    read = dict(pairs)
    if len(read) != len(pairs):
        names = [name for name, _ in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise UnfitError(f"'{twice}' stands twice in one object of the body")
    return read
