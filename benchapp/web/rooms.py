"""Every room of the house: the modules that answer requests, at the bench and at the desk."""

from flask import Flask

from benchapp.web import (
    bench,
    case,
    cases,
    chamber,
    course,
    desk,
    due,
    editions,
    enrol,
    gate,
    home,
    labels,
    lan,
    local,
    meshes,
    network_desk,
    oops,
    outbox,
    people,
    printing,
    records,
    release,
    remake,
    seating,
    setup,
    staff,
    stock,
    this_tablet,
    today,
    worker,
)

BENCH = (home, bench, outbox, people, labels, records, worker, local, chamber, due, enrol, this_tablet, oops, seating)
DESK = (
    desk, today, cases, case, release, remake, meshes, stock, staff, setup, course, printing, editions, network_desk,
)


def open_rooms(app: Flask) -> None:
    """Let an application answer in all rooms, behind the two questions that come first: which name, and who."""
    app.before_request(lan.one_origin)
    app.before_request(gate.only_ours)
    app.after_request(gate.count_lost)
    for room in (*BENCH, *DESK):
        app.register_blueprint(room.views)
