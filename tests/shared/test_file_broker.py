"""The file broker under several processes at once: every message arrives, whole, and once."""

import multiprocessing
from queue import Empty

from kombu import Connection

MESSAGES_EACH = 300


def connect(folder) -> Connection:
    options = {"data_folder_in": str(folder), "data_folder_out": str(folder), "control_folder": str(folder / "control")}
    return Connection("filesystem://", transport="shared.file_broker:Transport", transport_options=options)


def publish(folder, sender):
    with connect(folder) as connection, connection.SimpleQueue("work") as queue:
        for number in range(MESSAGES_EACH):
            queue.put([sender, number])


def take(folder, wanted, results):
    got = []
    with connect(folder) as connection, connection.SimpleQueue("work") as queue:
        while wanted.value > 0:
            try:
                message = queue.get(timeout=0.5)
            except Empty:
                continue
            got.append(tuple(message.payload))
            message.ack()
            with wanted.get_lock():
                wanted.value -= 1
    results.put(got)


def test_with_three_senders_and_two_takers_every_message_arrives_once(tmp_path):
    (tmp_path / "control").mkdir()
    fork = multiprocessing.get_context("fork")
    wanted, results = fork.Value("i", 3 * MESSAGES_EACH), fork.Queue()
    takers = [fork.Process(target=take, args=(tmp_path, wanted, results)) for _ in range(2)]
    senders = [fork.Process(target=publish, args=(tmp_path, sender)) for sender in range(3)]
    for process in (*takers, *senders):
        process.start()
    got = [message for _ in takers for message in results.get(timeout=60)]
    for process in (*takers, *senders):
        process.join(timeout=30)
    assert sorted(got) == [(sender, number) for sender in range(3) for number in range(MESSAGES_EACH)]
    assert not [path for path in tmp_path.iterdir() if path.is_file()]


def test_messages_are_taken_in_the_order_they_were_sent(tmp_path):
    (tmp_path / "control").mkdir()
    publish(tmp_path, 7)
    with connect(tmp_path) as connection, connection.SimpleQueue("work") as queue:
        got = [queue.get(timeout=5).payload[1] for _ in range(MESSAGES_EACH)]
    assert got == list(range(MESSAGES_EACH))
