"""Who is told, when and of what: messages to people, and a heartbeat for an outside monitor.

    settings.py        what a person may set (frozen data)
    settings_file.py   alerts.toml, read with every mistake's line and no secret
    facts.py           what stands now, from a frame or its absence (pure)
    ready.py, job.py   what the forecast says of the pour, and the job sheet of the metal
    words.py           titles and texts (pure)
    decide.py          (state, seen, now) -> (state, messages): no clock, no I/O (pure)
    kept.py            the state in a file, so that a page that starts anew tells nothing twice
    service.py         the one place that knows the messaging library
    sender.py          a thread for each recipient: sends, tries again, says what failed
    heartbeat.py       a thread that fetches an address while all is well
    watch.py           ties them to the hub, once a second
    routes.py          GET /api/alerts, POST /api/alerts/acknowledge, GET /api/health/well

House rules: nothing here decides about heat, and the controller never waits for any of it. Addresses are
secrets: they are never printed, kept in the record, logged or sent to a page. No message says that
anything is safe.
"""
