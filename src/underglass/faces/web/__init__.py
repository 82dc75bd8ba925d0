"""The local web face: pages for a phone in the garden, rendered here, with no account and nothing from anywhere else.

`serve` (serve.py) starts it; `create_app` (app.py) builds it around a `Desk` (desk.py), which holds the household's folder, running work and
warm answers.  Every request passes the guard (guard.py) first.  Pages parse, ask one service and show; docs/web.md tells what is where.
"""
