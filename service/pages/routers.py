"""Every page, in one list."""

from service.pages import (
    categories,
    containers,
    device,
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
    sign_in.router,
    device.router,
    handler.router,
    wall.router,
    officer.router,
)
