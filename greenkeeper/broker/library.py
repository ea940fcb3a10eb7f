"""The MQTT library, without what nobody here ever calls of it.

Lives here: importing paho-mqtt so that its `import urllib.request` costs nothing. It looks
there for a proxy, and only where the package PySocks is installed; with http and email
behind it that takes 3 MiB of the keeper's memory (tests/bench/bench_keeper.py). Does not
live here: any use of it (link.py, roll_call.py), which import it from here.
"""

from typing import TYPE_CHECKING

from greenkeeper.promised import imported

if TYPE_CHECKING:
    from paho.mqtt import client as mqtt
else:
    mqtt = imported("paho.mqtt.client", without=["urllib.request"])

from paho.mqtt.enums import CallbackAPIVersion, MQTTErrorCode, MQTTProtocolVersion
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.reasoncodes import ReasonCode
from paho.mqtt.subscribeoptions import SubscribeOptions

__all__ = [
    "CallbackAPIVersion",
    "MQTTErrorCode",
    "MQTTProtocolVersion",
    "PacketTypes",
    "Properties",
    "ReasonCode",
    "SubscribeOptions",
    "mqtt",
]
