"""Broker: the house's state told to whoever listens, over MQTT and by the Homie 5 convention.

    payloads.py      how one value is written
    homie.py         one device: its description document and its topics
    keeper.py        what this keeper shows: settings -> device, Tick -> topic table
    zones.py, gear.py, damp.py  the same of zones, of what switches, of hygrometers
    orders.py        which commands are believed, and the desk they wait on for control
    session.py       what has to be said on one connection, and in which order
    link.py          one MQTT connection, the only module that knows paho-mqtt
    exchange.py      what probes and outputs read from the broker and send through it
    bell.py          what ends a wait on a connection
    conversation.py  one session kept alive over one link
    pace.py          how patient the client is
    access.py        password and certificates, read anew for every connection
    refusals.py      reason codes in plain words
    trial.py         one connection to find out what stands in the way of all others
    asyncapi.py      the same topics as an AsyncAPI 3 document
    client.py        BrokerClient: the thread that comes back for ever

payloads, homie, keeper, zones, gear, damp, session, pace and refusals are pure. Does not live
here: any decision about plants. A tick is handed over and forgotten, and control never
waits for a broker; what one orders is asked for by the loop, and allowed by control or not.

Source of every rule about topics and payloads: Homie convention 5.0.0 (11 May 2025),
https://homieiot.github.io/specification/ ; of the protocol: OASIS MQTT 5.0 and 3.1.1.
"""
