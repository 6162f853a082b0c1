"""Hand notices to whom they are for, as the operator's file says."""

from collections.abc import Callable, Sequence
from datetime import datetime

import httpx

from service.custody.site import Site
from service.notices.mail import letter, post_letter
from service.notices.notice import Notice
from service.notices.recipients import Post, Recipient
from service.notices.webhook import request_of, send_request


def deliverer(
    post: Post | None, clock: Callable[[], datetime]
) -> Callable[[Recipient, Site, Sequence[Notice]], None]:
    """Give what delivers; it raises OSError where notices were not taken."""

    def deliver(to: Recipient, site: Site, some: Sequence[Notice]) -> None:
        if post is not None and to.mail:
            post_letter(post, letter(post, to, some, site.zone))
            return
        for notice in some:
            try:
                send_request(request_of(to, notice, clock()))
            except httpx.HTTPError as error:
                raise OSError(f"no answer: {error}") from error

    return deliver
