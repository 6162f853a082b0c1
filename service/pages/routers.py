"""Every page, in one list."""

from service.pages import sign_in

ROUTERS = (sign_in.router,)
