import pytest
from kombu import Connection

from servicedesk.transport import broker_url


def test_acknowledgement_that_fails_frees_its_place(redis_server):
    with Connection(broker_url(redis_server.url)) as connection:
        channel = connection.default_channel
        channel.basic_qos(0, 1, False)  # one message at a time
        queue = connection.SimpleQueue("calls")
        queue.put("wake up")
        message = queue.get(timeout=5)
        assert not channel.qos.can_consume()

        redis_server.kill()
        with pytest.raises(connection.connection_errors):
            message.ack()

        assert channel.qos.can_consume()
        redis_server.start()  # so that the connection closes in peace
