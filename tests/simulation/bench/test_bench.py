from __future__ import annotations

import threading
from collections.abc import Mapping

import numpy as np
import pytest
from scipy import signal

from station.errors import AudioError, FixtureError, RefusedInputError, StoppedError
from station.hardware.protocols.audio import Meter
from station.simulation.bench.bench import SimulatedBench
from station.simulation.bench.stationfile import simulated_station
from station.simulation.products.units import unit_truth
from tests.simulation.fakes import FakeClock

STATION, TEXT = simulated_station()
MICROPHONE, VOLTAGE, CURRENT, AMBIENT = range(4)
N = 48000
LATENCY = 1111


def bench_with(
    faults: Mapping[str, float] | None = None,
    serial: str = "T2A00001",
    *,
    paced: bool = False,
    ambient_db_spl: float = 45.0,
    clock: FakeClock | None = None,
) -> SimulatedBench:
    bench = SimulatedBench(
        STATION,
        seed=7,
        faults_of={serial: faults or {}},
        paced=paced,
        clock=clock or FakeClock(),
        ambient_db_spl=ambient_db_spl,
        reflections=False,
    )
    bench.fixture.secure(serial, "any")
    return bench


def chirp(rms_v: float = 1.0) -> np.ndarray:
    time_s = np.arange(N) / 96000.0
    swept = signal.chirp(time_s, 20.0, 0.45, 44e3, "logarithmic", phi=-90.0)
    swept *= signal.windows.tukey(N, 0.05) * (time_s < 0.45)
    return np.asarray(np.sqrt(2.0) * rms_v / STATION.audio.output_full_scale_v * swept)


def played(bench: SimulatedBench, output: np.ndarray | None = None) -> np.ndarray:
    given = chirp() if output is None else output
    capture = bench.audio.play_and_record(given, on_meter=lambda _: None, stop=threading.Event())
    assert capture.flags == ()
    assert capture.samples.shape == (4, given.size)
    return capture.samples


def in_units(samples: np.ndarray) -> np.ndarray:
    scales = np.array([one.full_scale for one in STATION.inputs])
    return samples * scales[:, None]


def averaged(ratio: np.ndarray, f_hz: np.ndarray, centre_hz: float) -> complex:
    near = np.abs(f_hz / centre_hz - 1.0) < 0.03
    return complex(np.mean(ratio[near]))


@pytest.mark.parametrize("serial", ["T2A00001", "F6A00001"])
def test_recording_carries_the_units_own_response_and_impedance(serial: str) -> None:
    roles = in_units(played(bench_with(serial=serial, ambient_db_spl=0.0), chirp(0.3)))
    spectra = np.fft.rfft(roles)
    f_hz = np.fft.rfftfreq(N, 1 / 96000.0)
    truth = unit_truth(serial, 7, {})
    inside = (f_hz > 50.0) & (f_hz < 30e3)
    f_hz, spectra = f_hz[inside], spectra[:, inside]
    flight = np.exp(2j * np.pi * f_hz / 343.2)  # 1 m at 343.2 m/s
    response = spectra[MICROPHONE] / spectra[VOLTAGE] * flight / truth.response(f_hz)
    admittance = spectra[CURRENT] / spectra[VOLTAGE] * truth.impedance(f_hz)
    for centre_hz in (100.0, 300.0, 1000.0, 3000.0, 10e3, 20e3):
        # converter noise 90 dB below this drive leaves less than 0.5 % after averaging
        assert averaged(response, f_hz, centre_hz) == pytest.approx(1.0, abs=0.01)
        assert averaged(admittance, f_hz, centre_hz) == pytest.approx(1.0, abs=0.01)


def test_the_same_seed_serial_and_run_give_the_same_samples() -> None:
    np.testing.assert_array_equal(played(bench_with()), played(bench_with()))


def test_the_next_run_has_other_noise_on_the_same_unit() -> None:
    bench = bench_with()
    first, second = played(bench), played(bench)
    assert np.any(first != second)
    np.testing.assert_allclose(first[VOLTAGE], second[VOLTAGE], atol=1e-4)


def test_another_serial_is_another_unit() -> None:
    first, second = played(bench_with()), played(bench_with(serial="T2A00002"))
    assert np.max(np.abs(first[MICROPHONE] - second[MICROPHONE])) > 1e-3


def test_samples_lie_on_the_24_bit_grid_within_full_scale() -> None:
    samples = played(bench_with())
    np.testing.assert_array_equal(samples * 2**23, np.rint(samples * 2**23))
    assert np.max(np.abs(samples)) <= 1.0


def test_the_stimulus_appears_after_the_latency() -> None:
    click = np.zeros(N)
    click[1000] = 0.5
    voltage = played(bench_with(), click)[VOLTAGE]
    assert int(np.argmax(np.abs(voltage))) == 1000 + LATENCY


def test_only_inputs_of_the_station_file_are_recorded_in_its_order() -> None:
    two = STATION.model_copy(update={"inputs": STATION.inputs[1::-1]})
    bench = SimulatedBench(two, seed=7, faults_of={}, paced=False, clock=FakeClock())
    bench.fixture.secure("T2A00001", "any")
    peaks: list[Meter] = []
    capture = bench.audio.play_and_record(chirp(), on_meter=peaks.append, stop=threading.Event())
    assert capture.samples.shape == (2, N)
    drive_ratio = np.sqrt(2.0) / STATION.inputs[VOLTAGE].full_scale
    assert np.max(np.abs(capture.samples[0])) == pytest.approx(drive_ratio, rel=0.05)
    assert len(peaks[-1].peaks) == 2


def test_a_rear_microphone_hears_the_panel_reversed() -> None:
    rear = STATION.inputs[AMBIENT].model_copy(update={"role": "rear"})
    both = STATION.model_copy(update={"inputs": (*STATION.inputs[:3], rear)})
    bench = SimulatedBench(
        both, seed=7, faults_of={}, paced=False, clock=FakeClock(), reflections=False
    )
    bench.fixture.secure("F6A00001", "any")
    samples = bench.audio.play_and_record(
        chirp(), on_meter=lambda _: None, stop=threading.Event()
    ).samples
    # below 2 kHz: above, the concave back focuses and is no plain copy any more
    band = signal.butter(2, (600.0, 2e3), "bandpass", fs=96000.0, output="sos")
    front, back = signal.sosfilt(band, samples[[MICROPHONE, 3]])
    # its back is nearer by some centimetres: up to 0.15 ms between the two
    alike = [np.corrcoef(np.roll(back, lag), front)[0, 1] for lag in range(15)]
    assert min(alike) < -0.95
    assert max(alike) < 0.3


def test_an_empty_fixture_gives_voltage_without_current_or_sound() -> None:
    bench = bench_with(ambient_db_spl=20.0)
    bench.fixture.release()
    samples = played(bench)
    assert np.std(samples[VOLTAGE]) > 0.01
    assert np.std(samples[CURRENT]) < 1e-5
    assert np.std(samples[MICROPHONE]) < 1e-4


def test_an_open_lid_secures_nothing() -> None:
    bench = SimulatedBench(
        STATION, seed=7, faults_of={}, paced=False, clock=FakeClock(), lid_open=True
    )
    assert not bench.fixture.lid_closed()
    with pytest.raises(FixtureError, match="lid is open"):
        bench.fixture.secure("T2A00001", "any")
    assert bench.fixture.unit is None
    bench.fixture.lid_open = False
    bench.fixture.secure("T2A00001", "any")
    assert bench.fixture.lid_closed()
    assert bench.fixture.secured_model == "any"


@pytest.mark.parametrize("serial", ["X9Z00001", "T2A0001", "T2A00001 ", "t2a00001", "T2A٠٠٠٠١", ""])
def test_an_unknown_serial_number_is_refused(serial: str) -> None:
    bench = SimulatedBench(STATION, seed=7, faults_of={}, paced=False, clock=FakeClock())
    with pytest.raises(RefusedInputError) as refused:
        bench.fixture.secure(serial, "any")
    assert "T2A00001" in refused.value.remedy


def test_a_fault_the_unit_cannot_have_is_refused_when_it_is_secured() -> None:
    with pytest.raises(RefusedInputError, match="missing_bias"):
        bench_with({"missing_bias": 1.0})


def test_faults_may_come_from_a_function_of_the_serial_number() -> None:
    bench = SimulatedBench(
        STATION,
        seed=7,
        faults_of=lambda serial: {"dead_woofer": 1.0} if serial.endswith("2") else {},
        paced=False,
        clock=FakeClock(),
    )
    bench.fixture.secure("T2A00001", "any")
    assert bench.fixture.faults == {}
    bench.fixture.secure("T2A00002", "any")
    assert bench.fixture.faults == {"dead_woofer": 1.0}


def test_paced_play_takes_the_stimulus_time_and_meters_on_the_way() -> None:
    clock, meters = FakeClock(), list[Meter]()
    bench = bench_with(paced=True, clock=clock)
    bench.audio.play_and_record(chirp(), on_meter=meters.append, stop=threading.Event())
    assert clock.now_s == pytest.approx(N / 96000.0)
    assert len(clock.waits_s) >= 10
    ratios = [meter.played_ratio for meter in meters]
    assert ratios == sorted(ratios)
    assert ratios[0] == 0.0
    assert ratios[-1] == 1.0


def test_unpaced_play_waits_for_nothing_and_still_meters() -> None:
    clock, meters = FakeClock(), list[Meter]()
    bench = bench_with(clock=clock)
    bench.audio.play_and_record(chirp(), on_meter=meters.append, stop=threading.Event())
    assert clock.waits_s == []
    assert len(meters) >= 4
    assert max(meter.peaks[VOLTAGE] for meter in meters) > 0.05


@pytest.mark.parametrize("paced", [True, False])
def test_stopping_half_way_ends_the_run(*, paced: bool) -> None:
    stop, meters = threading.Event(), list[Meter]()

    def stop_half_way(meter: Meter) -> None:
        meters.append(meter)
        if meter.played_ratio >= 0.5:
            stop.set()

    bench = bench_with(paced=paced)
    with pytest.raises(StoppedError):
        bench.audio.play_and_record(chirp(), on_meter=stop_half_way, stop=stop)
    assert meters[-1].played_ratio < 0.8
    played(bench)  # and the next run works


def test_a_closed_device_plays_no_more() -> None:
    bench = bench_with()
    bench.audio.close()
    with pytest.raises(AudioError, match="closed"):
        played(bench)


@pytest.mark.parametrize("output", [np.zeros((2, 10)), np.array([0.0, np.nan])])
def test_a_senseless_stimulus_is_a_callers_mistake(output: np.ndarray) -> None:
    with pytest.raises(ValueError, match="finite samples"):
        bench_with().audio.play_and_record(output, on_meter=lambda _: None, stop=threading.Event())


def test_the_amplifier_clips_at_its_rail() -> None:
    loud = np.sin(2 * np.pi * 1000.0 * np.arange(N) / 96000.0)
    bench = bench_with({"station_wrong_gain": 4.0})
    volts = in_units(played(bench, loud))[VOLTAGE]
    assert np.max(np.abs(volts)) < 24.1  # the rail, of 20 V peak and 4 dB more


def test_silent_microphone_leaves_only_the_inputs_own_noise() -> None:
    samples = played(bench_with({"station_silent_microphone": 1.0}))
    # -112 dB of full scale
    assert 20 * np.log10(np.std(samples[MICROPHONE])) == pytest.approx(-112.0, abs=0.3)


def test_swapped_channels_exchange_their_signals() -> None:
    good = in_units(played(bench_with()))
    bad = in_units(played(bench_with({"station_swapped_channels": 1.0})))
    # each signal keeps its size in Pa or V on the other's input
    np.testing.assert_allclose(bad[VOLTAGE], good[MICROPHONE], atol=2e-3)
    np.testing.assert_allclose(bad[MICROPHONE], good[VOLTAGE], atol=2e-3)


def test_clipped_input_stays_at_full_scale() -> None:
    microphone = played(bench_with({"station_clipped_input": 6.0}))[MICROPHONE]
    assert np.count_nonzero(np.abs(microphone) >= 1.0 - 2**-22) > 20


def test_lost_samples_shift_everything_after_the_gap() -> None:
    good = played(bench_with(), chirp())
    bad = played(bench_with({"station_lost_samples": 8}), chirp())
    early, late = slice(0, round(0.38 * N)), slice(round(0.62 * N), N - 8)
    shifted = slice(late.start + 8, late.stop + 8)
    np.testing.assert_allclose(bad[VOLTAGE, early], good[VOLTAGE, early], atol=1e-4)
    np.testing.assert_allclose(bad[VOLTAGE, late], good[VOLTAGE, shifted], atol=1e-3)


def test_nan_samples_are_as_many_as_asked() -> None:
    samples = played(bench_with({"station_nan_samples": 3}))
    assert np.count_nonzero(np.isnan(samples[MICROPHONE])) == 3
    assert np.isfinite(samples[1:]).all()


def test_wrong_gain_moves_the_voltage_by_its_severity() -> None:
    good, bad = played(bench_with()), played(bench_with({"station_wrong_gain": -6.0}))
    change = 20 * np.log10(np.std(bad[VOLTAGE]) / np.std(good[VOLTAGE]))
    assert change == pytest.approx(-6.0, abs=0.02)


def test_dead_current_leaves_the_other_inputs_alone() -> None:
    good, bad = played(bench_with()), played(bench_with({"station_dead_current": 1.0}))
    assert np.std(bad[CURRENT]) < 1e-5
    np.testing.assert_array_equal(bad[[MICROPHONE, VOLTAGE]], good[[MICROPHONE, VOLTAGE]])


def test_loud_room_and_bang_reach_both_microphones() -> None:
    silence = np.zeros(N)
    loud = in_units(played(bench_with({"station_loud_room": 75.0}), silence))
    for role in (MICROPHONE, AMBIENT):
        assert 20 * np.log10(np.std(loud[role]) / 20e-6) == pytest.approx(75.0, abs=1.5)
    bench = bench_with({"station_bang": 85.0})
    bang = in_units(played(bench, silence))
    for role in (MICROPHONE, AMBIENT):
        # 85 dB SPL peak is 356 mPa; the room adds its own few mPa
        assert np.max(np.abs(bang[role])) == pytest.approx(0.356, abs=0.015)
    assert np.max(np.abs(in_units(played(bench, silence))[MICROPHONE])) < 0.05  # it is over


def test_a_shorter_distance_is_louder() -> None:
    near = STATION.model_copy(update={"microphone_distance_m": 0.5})
    bench = SimulatedBench(
        near, seed=7, faults_of={}, paced=False, clock=FakeClock(), reflections=False
    )
    bench.fixture.secure("T2A00001", "any")
    louder = np.std(played(bench)[MICROPHONE]) / np.std(played(bench_with())[MICROPHONE])
    assert 20 * np.log10(louder) == pytest.approx(6.02, abs=0.1)


def test_an_output_on_a_faster_clock_plays_what_belongs_later() -> None:
    # A tone of 1 kHz on a clock faster by 1000 ppm is one of 1001 Hz: over the whole record of
    # half a second that is half a turn more.
    tone = 0.05 * np.sin(2.0 * np.pi * 1000.0 * np.arange(N) / 96000.0)
    volts = in_units(played(bench_with({"station_clock_drift": 1000.0}), tone))[VOLTAGE]
    crossings = np.count_nonzero(np.diff(np.signbit(volts[LATENCY + 200 : N - 400])))
    expected = 2.0 * 1001.0 * (N - LATENCY - 600) / 96000.0
    assert crossings == pytest.approx(expected, abs=1.5)


def test_repeated_samples_come_twice() -> None:
    good = played(bench_with(), chirp())
    bad = played(bench_with({"station_repeated_samples": 8}), chirp())
    first = int(np.flatnonzero(np.abs(bad[VOLTAGE] - good[VOLTAGE]) > 1e-4)[0])
    np.testing.assert_allclose(bad[VOLTAGE, -100:], good[VOLTAGE, -108:-8], atol=1e-4)
    assert 0.4 * N <= first <= 0.6 * N + 8
