"""The Redis transport, mended: a lost acknowledgement takes no place in the queue for ever.

The plain transport tells the server first and forgets the message after. When Redis restarts in
between, the place stays taken; with every place taken the worker lives on and consumes nothing.
Freed at once, the message comes back after the visibility timeout, which harms nothing here.
"""

from kombu.transport import TRANSPORT_ALIASES, redis

PREFIX = "mended-"  # redis://... is spoken to as mended-redis://...


class QoS(redis.QoS):
    def ack(self, delivery_tag):
        try:
            super().ack(delivery_tag)
        except Exception:
            self._quick_ack(delivery_tag)
            raise

    def reject(self, delivery_tag, requeue=False):
        try:
            super().reject(delivery_tag, requeue)
        except Exception:
            self._quick_ack(delivery_tag)
            raise


class Channel(redis.Channel):
    QoS = QoS


class Transport(redis.Transport):
    Channel = Channel


for scheme in ("redis", "rediss"):
    TRANSPORT_ALIASES[PREFIX + scheme] = f"{__name__}:Transport"


def broker_url(redis_url):
    """The address that makes Celery take this transport for a redis:// or rediss:// address."""
    return PREFIX + redis_url
