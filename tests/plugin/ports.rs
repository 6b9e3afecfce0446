//! The ports are all there, and the latency is what it is.

use super::plugin;

#[test]
fn all_ports_are_there_from_the_first_day() {
    let mut host = plugin();
    let names = |ports: Vec<inproc_host::Port>| ports.into_iter().map(|p| p.channels).collect::<Vec<_>>();
    assert_eq!(names(host.ports(true)), [2, 2], "main in and side-chain in");
    assert_eq!(names(host.ports(false)), [2, 2], "main out and the drone's own output");
}

#[test]
fn the_latency_is_reported_truthfully_and_is_nothing() {
    let mut host = plugin();
    host.activate(48_000.0, 64).unwrap();
    assert_eq!(host.latency().unwrap_or(0), 0);
    // An impulse comes out where it went in.
    let mut signal = vec![0.0f32; 64];
    signal[17] = 0.5;
    let mut block = super::stereo(&signal);
    host.process(&mut block, &[], None).unwrap();
    assert_eq!(block.main[0], signal);
}
