//! A system that answers, one that does not, and (under Linux) a real bus with and without a portal on it.

use super::*;
use std::sync::atomic::AtomicUsize;

/// What is known once the question has ended.
fn answered(wish: &Wish) -> bool {
    wish.wait();
    wish.less()
}

impl Wish {
    /// Waits until no question is out.
    pub(in super::super) fn wait(&self) {
        while self.asking.lock().unwrap().as_ref().is_some_and(|thread| !thread.is_finished()) {
            std::thread::sleep(LOOK);
        }
    }
}

#[test]
fn what_the_system_says_is_known_and_stays_known() {
    let mut wish = Wish::of(|| Some(true));
    assert!(!wish.less(), "nobody has asked");
    wish.ask();
    assert!(answered(&wish));
    wish.source = || None;
    wish.ask();
    assert!(answered(&wish), "no answer is no other answer");
    wish.source = || Some(false);
    wish.ask();
    assert!(!answered(&wish));
}

// Under macOS it is asked in place.
#[cfg(not(target_os = "macos"))]
#[test]
fn a_system_that_does_not_answer_keeps_nobody_waiting() {
    static ASKED: AtomicUsize = AtomicUsize::new(0);
    static ANSWERS: AtomicBool = AtomicBool::new(false);
    let slow = Wish::of(|| {
        ASKED.fetch_add(1, Ordering::Relaxed);
        while !ANSWERS.load(Ordering::Relaxed) {
            std::thread::sleep(LOOK);
        }
        Some(true)
    });
    for _ in 0..200 {
        slow.ask();
        assert!(!slow.less());
    }
    // One question was out all the time.
    ANSWERS.store(true, Ordering::Relaxed);
    assert!(answered(&slow));
    assert_eq!(ASKED.load(Ordering::Relaxed), 1);
}

#[cfg(target_os = "linux")]
mod bus {
    use super::*;
    use std::io::{BufRead, BufReader};
    use std::process::{Child, Command, Stdio};
    use zbus::zvariant::{OwnedValue, Value};

    /// A bus of its own that ends with this, and its address.
    struct Bus(Child, String);

    impl Drop for Bus {
        fn drop(&mut self) {
            // It may have ended by itself.
            let _ = self.0.kill();
            let _ = self.0.wait();
        }
    }

    /// `None` where there is no such program.
    fn bus() -> Option<Bus> {
        let mut daemon = Command::new("dbus-daemon");
        daemon.args(["--session", "--nofork", "--nopidfile", "--print-address"]);
        let mut child = daemon.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().ok()?;
        let mut address = String::new();
        BufReader::new(child.stdout.take()?).read_line(&mut address).ok()?;
        Some(Bus(child, address.trim().to_owned()))
    }

    /// The desktop's settings, which takes so long to answer.
    struct Portal(Duration);

    #[zbus::interface(name = "org.freedesktop.portal.Settings")]
    impl Portal {
        async fn read(&self, namespace: &str, key: &str) -> zbus::fdo::Result<OwnedValue> {
            tokio::time::sleep(self.0).await;
            if (namespace, key) == ("org.freedesktop.appearance", "reduced-motion") {
                Ok(Value::Value(Box::new(Value::U32(1))).try_into().map_err(zbus::Error::from)?)
            } else {
                Err(zbus::fdo::Error::Failed("there is no such setting".to_owned()))
            }
        }
    }

    /// Asks 200 times in a process of its own, where the portal takes so long to answer or there is none; what was said there.
    fn asked(bus: &str, portal: Option<Duration>) -> String {
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        let served = portal.map(|takes| {
            runtime.block_on(async {
                let portal = zbus::connection::Builder::address(bus).unwrap();
                let portal = portal.name("org.freedesktop.portal.Desktop").unwrap();
                portal.serve_at("/org/freedesktop/portal/desktop", Portal(takes)).unwrap().build().await.unwrap()
            })
        });
        let out = Command::new(std::env::current_exe().unwrap())
            .args(["--ignored", "--exact", "plugin::window::wish::tests::bus::two_hundred_questions", "--nocapture"])
            .env("DBUS_SESSION_BUS_ADDRESS", bus)
            .output()
            .unwrap();
        runtime.block_on(async { drop(served) });
        let said = String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
        assert!(out.status.success() && said.contains("1 passed"), "{said}");
        said.lines().find(|line| line.contains("asked:")).unwrap().to_owned()
    }

    #[test]
    fn the_portals_answer_is_heard_and_nothing_is_left_of_two_hundred_questions() {
        assert!(asked("unix:path=/nonexistent", None).ends_with("asked: false"), "no bus");
        let Some(bus) = bus() else {
            println!("skipped: there is no dbus-daemon on this machine");
            return;
        };
        assert!(asked(&bus.1, None).ends_with("asked: false"), "a bus without a portal");
        assert!(asked(&bus.1, Some(Duration::ZERO)).ends_with("asked: true"), "a portal");
        assert!(asked(&bus.1, Some(10 * BOUND)).ends_with("asked: false"), "a portal that takes too long");
    }

    /// Threads and open files of this process (proc(5)), once what has ended is gone.
    fn held() -> (usize, usize) {
        std::thread::sleep(BOUND / 3);
        let count = |of: &str| std::fs::read_dir(of).unwrap().count();
        (count("/proc/self/task"), count("/proc/self/fd"))
    }

    #[test]
    #[ignore = "asks a bus of its own: see the_portals_answer_is_heard_and_nothing_is_left_of_two_hundred_questions"]
    fn two_hundred_questions() {
        let wish = Wish::of_system();
        let (mut first, mut longest, began) = (None, Duration::ZERO, Instant::now());
        for _ in 0..200 {
            let asked = Instant::now();
            wish.ask();
            answered(&wish);
            longest = longest.max(asked.elapsed());
            first = first.or_else(|| Some(held()));
            // One that does not answer has shown by then what it leaves.
            if began.elapsed() > 5 * BOUND {
                break;
            }
        }
        assert_eq!(Some(held()), first, "threads and files");
        assert!(longest < WHOLE, "{longest:?}");
        println!("asked: {}", wish.less());
    }
}
