"""Every page, in one list."""

from service.pages import (
    categories,
    containers,
    cycles,
    handler,
    officer,
    plant,
    sign_in,
    wall,
    ward,
)

ROUTERS = (
    categories.router,
    ward.router,
    containers.router,
    plant.router,
    cycles.router,
    sign_in.router,
    handler.router,
    wall.router,
    officer.router,
)
