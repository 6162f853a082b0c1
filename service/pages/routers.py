"""Every page, in one list."""

from service.pages import (
    categories,
    containers,
    cycles,
    device,
    figures,
    handler,
    officer,
    plan,
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
    device.router,
    handler.router,
    wall.router,
    officer.router,
    figures.router,
    plan.router,
)
