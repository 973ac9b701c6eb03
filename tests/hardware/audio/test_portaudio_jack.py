"""Real audio through PortAudio and JACK, with a speaker in a process of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import scipy.signal
from numpy.typing import NDArray

from station.errors import AudioError, AudioLostError, BusyError, StoppedError
from station.hardware.audio.devices import list_devices
from station.hardware.audio.portaudio import PortAudioDevice
from station.hardware.files.stationfile import station_file
from station.hardware.protocols.audio import Capture, Meter, MeterCallback
from tests.hardware.jackbench import HOST_API, SPEAKER, JackBench, clean_capture, jack_speaker
from tests.hardware.lidjack import openings
from tests.hardware.serialbench import serial_bench

pytestmark = [pytest.mark.tools, pytest.mark.usefixtures("portaudio")]

RATE_HZ = 96_000.0
N_SAMPLES = 24_000
GAINS = (1.0, 0.5, -0.25)
DELAYS = (0, 1, 100)
FLOAT32_STEP = 2.0**-23


def gains_and_delays() -> NDArray[np.float64]:
    firs = np.zeros((len(GAINS), 128))
    for row, (gain, delay) in enumerate(zip(GAINS, DELAYS, strict=True)):
        firs[row, delay] = gain
    return firs


def click_and_noise(n: int = N_SAMPLES) -> NDArray[np.float64]:
    """Return noise with a full-scale first sample, in numbers that 32 bits hold exactly."""
    noise = np.random.default_rng(1).uniform(-0.5, 0.5, n).astype(np.float32).astype(np.float64)
    noise[0] = 1.0
    return noise


def latency_of(capture: Capture) -> int:
    """Return when the click of the first sample came back on the first input."""
    return int(np.argmax(np.abs(capture.samples[0])))


def run(
    device: PortAudioDevice,
    output: NDArray[np.float64],
    on_meter: MeterCallback = lambda _: None,
    stop: threading.Event | None = None,
) -> Capture:
    return device.play_and_record(output, on_meter=on_meter, stop=stop or threading.Event())


def in_mid_run(*actions: Callable[[], None]) -> MeterCallback:
    """Return a meter callback that carries out one action a call, from a fifth of the run on."""
    left = list(actions)

    def on_meter(meter: Meter) -> None:
        if meter.played_ratio > 0.2 and left:
            left.pop(0)()

    return on_meter


def flags_or_loss(device: PortAudioDevice, on_meter: MeterCallback) -> tuple[str, ...]:
    """Return what was reported of a run that was disturbed."""
    try:
        return run(device, click_and_noise(4 * N_SAMPLES), on_meter).flags
    except AudioLostError as error:
        return (error.happened,)


def nothing() -> None:
    pass


@pytest.fixture(scope="module")
def bench(
    tool: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[JackBench]:
    """Return a bench for tests that leave it whole."""
    tool("jack_wait")
    folder = tmp_path_factory.mktemp("bench")
    with jack_speaker(gains_and_delays(), folder, jackd=tool("jackd")) as running:
        yield running


@pytest.fixture
def fragile(tool: Callable[[str], str], tmp_path: Path) -> Iterator[JackBench]:
    """Return a bench that a test may break."""
    tool("jack_wait")
    with jack_speaker(
        gains_and_delays(), tmp_path, jackd=tool("jackd"), silence_limit_s=0.8
    ) as running:
        yield running


@pytest.fixture(scope="module")
def device(bench: JackBench, tmp_path_factory: pytest.TempPathFactory) -> Iterator[PortAudioDevice]:
    """Return the one device of the whole bench, which every test leaves ready for a run."""
    device = bench.device(tmp_path_factory.mktemp("locks"))
    yield device
    device.close()


@pytest.fixture
def fragile_device(fragile: JackBench, tmp_path: Path) -> Iterator[PortAudioDevice]:
    device = fragile.device(tmp_path)
    yield device
    device.close()


def test_every_sample_comes_back_after_the_same_latency_in_every_run(
    bench: JackBench, device: PortAudioDevice, tmp_path: Path
) -> None:
    output = click_and_noise()
    captures = [clean_capture(device, output) for _ in range(3)]
    device.close()
    captures.append(clean_capture(device, output))  # by another child
    latencies = {latency_of(capture) for capture in captures}
    assert len(latencies) == 1
    latency = latencies.pop()
    assert 0 < latency <= 4 * bench.settings.block_frames
    for capture in captures:
        assert capture.samples.shape == (len(GAINS), N_SAMPLES)
        for row, (gain, delay) in enumerate(zip(GAINS, DELAYS, strict=True)):
            expected = np.zeros(N_SAMPLES)
            expected[latency + delay :] = gain * output[: N_SAMPLES - latency - delay]
            # The bench convolves by Fourier transform; its sums round to the last bit of float32.
            np.testing.assert_allclose(capture.samples[row], expected, rtol=0, atol=FLOAT32_STEP)


def test_rows_come_in_the_order_of_the_inputs(bench: JackBench, tmp_path: Path) -> None:
    swapped = JackBench(bench.settings, (3, 1), bench.server, bench.speaker)
    device = swapped.device(tmp_path)
    rows = clean_capture(device, click_and_noise()).samples
    device.close()
    assert np.max(np.abs(rows[0])) == pytest.approx(0.25, abs=FLOAT32_STEP)
    assert np.max(np.abs(rows[1])) == pytest.approx(1.0, abs=FLOAT32_STEP)


def test_the_meter_rises_to_the_end_and_shows_each_input(device: PortAudioDevice) -> None:
    meters: list[Meter] = []
    run(device, np.full(N_SAMPLES, 0.5), meters.append)
    ratios = [meter.played_ratio for meter in meters]
    assert ratios == sorted(ratios)
    assert ratios[-1] == 1.0
    assert meters[-1].peaks == pytest.approx((0.5, 0.25, 0.125), abs=FLOAT32_STEP)


def test_a_stopped_run_leaves_silence_and_the_next_one_works(
    bench: JackBench, device: PortAudioDevice
) -> None:
    stop = threading.Event()
    with pytest.raises(StoppedError):
        run(device, click_and_noise(10 * N_SAMPLES), in_mid_run(stop.set), stop)
    assert bench.speaker.loudest() == 0.0
    assert latency_of(clean_capture(device, click_and_noise())) > 0


def test_a_lid_that_opens_silences_the_next_block_that_is_handed_out(
    bench: JackBench, tmp_path: Path
) -> None:
    # The study of the same name opens it 20 times and prints times.
    with serial_bench(tmp_path / "ports") as lids:
        latency, found = openings([0.1, 0.3, 0.4], tmp_path, bench, lids)
    for one in found:
        assert one.stopped
        assert one.faded
        # One block fades; what the device took before it still sounds on its way out.
        assert one.blocks_after_told <= 1 + latency


def test_preparing_and_opening_a_device_plays_nothing(bench: JackBench, tmp_path: Path) -> None:
    device = bench.device(tmp_path)
    bench.speaker.forget()
    device.prepare()
    clean_capture(device, np.zeros(N_SAMPLES))
    device.close()
    assert max(peak for _, peak, _ in bench.speaker.log()) == 0.0


def test_a_run_that_is_stopped_before_it_starts_plays_nothing(device: PortAudioDevice) -> None:
    stop = threading.Event()
    stop.set()
    meters: list[Meter] = []
    with pytest.raises(StoppedError):
        run(device, click_and_noise(), meters.append, stop)
    assert meters == []


def test_a_speaker_that_misses_blocks_never_leaves_a_good_recording(
    bench: JackBench, device: PortAudioDevice
) -> None:
    freeze_and_thaw = in_mid_run(bench.speaker.freeze, nothing, nothing, bench.speaker.thaw)
    assert flags_or_loss(device, freeze_and_thaw)


def test_an_audio_child_that_misses_blocks_never_leaves_a_good_recording(
    device: PortAudioDevice,
) -> None:
    device.prepare()
    assert device._child is not None
    child = device._child.pid

    def stall() -> None:
        os.kill(child, signal.SIGSTOP)
        # To start an interpreter takes longer than some blocks do.
        subprocess.run([sys.executable, "-c", "import numpy"], check=True)
        os.kill(child, signal.SIGCONT)

    assert flags_or_loss(device, in_mid_run(stall))


def test_a_second_run_at_once_is_refused(device: PortAudioDevice) -> None:
    refused: list[BusyError] = []

    def run_again() -> None:
        with pytest.raises(BusyError) as caught:
            run(device, click_and_noise())
        refused.append(caught.value)

    run(device, click_and_noise(), in_mid_run(run_again))
    assert len(refused) == 1


def test_a_second_station_is_refused_until_the_first_gives_the_device_back(
    bench: JackBench, tmp_path: Path
) -> None:
    first, second = bench.device(tmp_path), bench.device(tmp_path)
    first.prepare()
    with pytest.raises(BusyError, match=rf"process {os.getpid()}"):
        run(second, click_and_noise())
    first.close()
    assert second.prepare().name == SPEAKER
    second.close()


def test_a_failure_of_the_display_ends_the_run_and_no_more(device: PortAudioDevice) -> None:
    def fail() -> None:
        raise ValueError("the display is broken")

    with pytest.raises(ValueError, match="the display is broken"):
        run(device, click_and_noise(), in_mid_run(fail))
    assert device._child is None
    assert latency_of(clean_capture(device, click_and_noise())) > 0


@pytest.mark.parametrize(
    ("change", "happened"),
    [
        ({"device": "nowhere"}, 'There is no audio device "nowhere".'),
        ({"rate_hz": 48_000.0}, f'The audio device "{SPEAKER}" does not run at 48000 Hz.'),
        ({"output": 2}, f'The station file uses output 2 of "{SPEAKER}", which has 1.'),
    ],
)
def test_a_station_file_that_does_not_fit_the_device_is_told(
    bench: JackBench, tmp_path: Path, change: dict[str, object], happened: str
) -> None:
    settings = bench.settings.model_copy(update=change)
    device = JackBench(settings, bench.inputs, bench.server, bench.speaker).device(tmp_path)
    with pytest.raises(AudioError) as caught:
        run(device, click_and_noise())
    device.close()
    assert caught.value.happened == happened


def test_the_speaker_is_listed_as_a_device(bench: JackBench) -> None:
    (speaker,) = (device for device in list_devices() if device.name == SPEAKER)
    assert (speaker.host_api, speaker.inputs, speaker.outputs) == (HOST_API, len(GAINS), 1)
    assert speaker.default_rate_hz == RATE_HZ


def test_the_benchs_station_file_is_one(bench: JackBench, tmp_path: Path) -> None:
    full_scales = {"microphone": 20.0, "voltage": 25.0, "current": 5.0}
    path = tmp_path / "bench.toml"
    path.write_text(bench.station_text(full_scales), encoding="utf-8")
    contents, _ = station_file(path)
    assert contents.audio == bench.settings
    assert {channel.role: channel.full_scale for channel in contents.inputs} == full_scales


def test_a_server_that_dies_in_mid_run_is_told_in_time_and_a_new_one_works(
    fragile: JackBench, fragile_device: PortAudioDevice
) -> None:
    killed_s: list[float] = []

    def kill_server() -> None:
        fragile.server.kill()
        killed_s.append(time.monotonic())

    with pytest.raises(AudioLostError, match="stopped delivering"):
        run(fragile_device, click_and_noise(10 * N_SAMPLES), in_mid_run(kill_server))
    assert time.monotonic() - killed_s[0] < fragile.settings.silence_limit_s + 4.0
    with pytest.raises(AudioError, match="is not running or has no devices"):
        run(fragile_device, click_and_noise())
    fragile.speaker.kill()
    fragile.server.start()
    fragile.speaker.start()
    assert latency_of(clean_capture(fragile_device, click_and_noise())) > 0


def test_a_server_that_was_started_anew_between_runs_is_found_without_an_error(
    fragile: JackBench, fragile_device: PortAudioDevice
) -> None:
    before = latency_of(clean_capture(fragile_device, click_and_noise()))
    fragile.server.kill()
    fragile.speaker.kill()
    fragile.server.start()
    fragile.speaker.start()
    assert latency_of(clean_capture(fragile_device, click_and_noise())) == before


def test_a_device_that_is_unplugged_in_mid_run_is_told_or_leaves_all_inputs_dead(
    fragile: JackBench, fragile_device: PortAudioDevice
) -> None:
    output = click_and_noise(10 * N_SAMPLES)
    try:
        capture = run(fragile_device, output, in_mid_run(fragile.speaker.kill))
    except AudioLostError:
        return
    # JACK sometimes drops the client and runs on; a recording cut short is for the check of its
    # integrity to void, which finds nothing of the stimulus in the voltage.
    assert np.count_nonzero(capture.samples[:, N_SAMPLES * 9 :]) == 0


def test_impulse_responses_of_a_third_of_a_second_come_back_exactly(
    tool: Callable[[str], str], tmp_path: Path
) -> None:
    tool("jack_wait")
    decay = np.exp(-np.arange(32_768) / 4_000.0)
    firs = 0.02 * decay * np.random.default_rng(2).standard_normal((4, decay.size))
    output = click_and_noise()
    with jack_speaker(firs, tmp_path, jackd=tool("jackd")) as bench:
        device = bench.device(tmp_path)
        rows = clean_capture(device, output).samples
        device.close()
    for row, fir in zip(rows, firs, strict=True):
        whole = scipy.signal.fftconvolve(output, fir)  # another algorithm than the speaker's
        latency = int(np.flatnonzero(row)[0])
        expected = whole[: N_SAMPLES - latency]
        assert np.max(np.abs(row[latency:] - expected)) < 1e-6 * np.max(np.abs(expected))
