//! Work on several threads whose results come out in the order of what was taken.
//!
//! It knows nothing of networks, and holds no more results back than a fixed number for each thread.

use std::collections::BTreeMap;
use std::io;
use std::num::NonZeroUsize;
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};

/// How many results a thread may be ahead of the one that is waited for. Records differ in size; with so many in hand a
/// small one never waits for a large one beside it.
const AHEAD: u64 = 64;

/// Takes one thing after the other, does the work on several threads, and delivers the results in the order in which the
/// things were taken. Each thread takes, works and delivers by itself; the first trouble stops them all.
///
/// # Errors
/// The first error of taking or delivering, or of the system where it gives no thread. What was taken before an error of
/// taking is still delivered.
///
/// # Panics
/// Where `work`, `take` or `deliver` does, once all threads have stopped.
pub fn in_order<T: Send, R: Send>(
    threads: NonZeroUsize,
    take: &mut (dyn FnMut() -> io::Result<Option<T>> + Send),
    work: &(dyn Fn(T) -> R + Sync),
    deliver: &mut (dyn FnMut(&R) -> io::Result<()> + Send),
) -> io::Result<()> {
    let window = AHEAD.saturating_mul(threads.get() as u64);
    let input = Mutex::new(Input {
        take,
        taken: 0,
        ended: false,
    });
    let output = Mutex::new(Output {
        deliver,
        next: 0,
        waiting: BTreeMap::new(),
        trouble: None,
        unread: None,
    });
    let room = Condvar::new();
    std::thread::scope(|scope| {
        for _ in 0..threads.get() {
            let worker = || worker(&input, &output, &room, window, work);
            if let Err(error) = std::thread::Builder::new().spawn_scoped(scope, worker) {
                stop(&input, &output, &room, error);
                break;
            }
        }
    });
    let output = output.into_inner().unwrap_or_else(PoisonError::into_inner);
    output.trouble.or(output.unread).map_or(Ok(()), Err)
}

struct Input<'a, T> {
    take: &'a mut (dyn FnMut() -> io::Result<Option<T>> + Send),
    taken: u64,
    ended: bool,
}

struct Output<'a, R> {
    deliver: &'a mut (dyn FnMut(&R) -> io::Result<()> + Send),
    /// The number of the result that is to be delivered next.
    next: u64,
    /// Results that came before their turn.
    waiting: BTreeMap<u64, R>,
    /// What kept a result from being delivered.
    trouble: Option<io::Error>,
    /// What kept a further thing from being taken.
    unread: Option<io::Error>,
}

/// Lets no further thing be taken, and no thread wait any more.
fn stop<T, R>(
    input: &Mutex<Input<'_, T>>,
    output: &Mutex<Output<'_, R>>,
    room: &Condvar,
    trouble: io::Error,
) {
    locked(output).trouble.get_or_insert(trouble);
    room.notify_all();
    locked(input).ended = true;
}

/// Stops the others where a thread panics: they would wait for its result for ever.
struct Watch<F: FnMut()>(F);

impl<F: FnMut()> Drop for Watch<F> {
    fn drop(&mut self) {
        if std::thread::panicking() {
            (self.0)();
        }
    }
}

fn locked<T: ?Sized>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

fn worker<T: Send, R: Send>(
    input: &Mutex<Input<'_, T>>,
    output: &Mutex<Output<'_, R>>,
    room: &Condvar,
    window: u64,
    work: &(dyn Fn(T) -> R + Sync),
) {
    let _watch = Watch(|| stop(input, output, room, io::Error::other("a thread has panicked")));
    while let Some((number, thing)) = taken(input, output) {
        let result = work(thing);
        let mut output = locked(output);
        // Whoever has the result that is waited for never waits, so that there is always one that goes on.
        while output.trouble.is_none() && number.saturating_sub(output.next) >= window {
            output = room.wait(output).unwrap_or_else(PoisonError::into_inner);
        }
        output.waiting.insert(number, result);
        output.give_out();
        let failed = output.trouble.is_some();
        drop(output);
        room.notify_all();
        if failed {
            locked(input).ended = true;
            return;
        }
    }
}

/// The next thing to work on, with its number.
fn taken<T, R>(input: &Mutex<Input<'_, T>>, output: &Mutex<Output<'_, R>>) -> Option<(u64, T)> {
    let mut input = locked(input);
    if input.ended {
        return None;
    }
    match (input.take)() {
        Ok(Some(thing)) => {
            let number = input.taken;
            input.taken += 1;
            Some((number, thing))
        }
        Ok(None) => {
            input.ended = true;
            None
        }
        Err(error) => {
            input.ended = true;
            locked(output).unread = Some(error);
            None
        }
    }
}

impl<R> Output<'_, R> {
    /// Delivers every result whose turn it is.
    fn give_out(&mut self) {
        while self.trouble.is_none()
            && let Some(result) = self.waiting.remove(&self.next)
        {
            self.next += 1;
            self.trouble = (self.deliver)(&result).err();
        }
    }
}
