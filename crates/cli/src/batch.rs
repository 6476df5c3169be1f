//! `crownweir batch`.

use std::collections::HashMap;
use std::fs::{File, OpenOptions};
use std::io::{self, BufReader, BufWriter, ErrorKind, IsTerminal as _, Seek as _, SeekFrom, Write};
use std::num::NonZeroUsize;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use clap::Args;
use crownweir::batch::{self, Header, Lines, Outcome, Record, Source, Standing};
use crownweir::{Day, Limits, Network, RuleSet};
use fs4::TryLockError;

use crate::input::{self, FailOn, Trouble};
use crate::output;

#[derive(Args)]
pub(crate) struct Arguments {
    /// A folder whose network files are checked, in the order of their names; without it, networks as JSON are read from
    /// standard input, one in each line.
    folder: Option<PathBuf>,
    /// A published rule set by name, or a rule set's file, and amendments after it, as for `check`; without it, the one that
    /// each network names.
    #[arg(long, value_name = "NAME-OR-FILE[+AMENDMENT...]")]
    rules: Option<String>,
    #[command(flatten)]
    on: input::On,
    /// How many threads check; without it, as many as there are cores. The results are the same.
    #[arg(long, value_name = "NUMBER", value_parser = input::number)]
    threads: Option<NonZeroUsize>,
    /// Write the results to this file as they come, instead of printing them; one that exists is left alone.
    #[arg(long, short, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Go on with a file of results that was interrupted: what stands in it is kept, if it is of the same records by the same
    /// rules, which `--rules` has to name.
    #[arg(long, requires = "output", requires = "rules")]
    resume: bool,
    /// At what in any record to end with exit code 1.
    #[arg(long, value_enum, default_value_t = FailOn::Violation)]
    fail_on: FailOn,
}

pub(crate) fn run(arguments: &Arguments) -> Result<ExitCode, Trouble> {
    let on = arguments.on.day()?;
    let rules = Rules::asked(arguments.rules.as_deref(), on, arguments.folder.is_some())?;
    let header = Header::new(env!("CARGO_PKG_VERSION"), rules.known(), on.to_string());
    let mut source = source(arguments.folder.as_deref())?;
    let (mut sink, standing) = sink(arguments, &header, &mut *source)?;
    let mut progress = Progress::new(standing.results, source.total());
    let mut worst = standing.worst;
    let limits = Limits::default();
    let threads = arguments
        .threads
        .or_else(|| std::thread::available_parallelism().ok());
    let chosen = |network: &Network| rules.for_network(network);
    let done = (|| {
        if standing.bytes == 0 {
            let head = header.line().map_err(io::Error::other)?;
            writeln!(sink, "{head}")?;
        }
        batch::in_order(
            threads.unwrap_or(NonZeroUsize::MIN),
            &mut || source.next_record(),
            &|record: Record| batch::result(&record, &chosen, &limits),
            &mut |result: &batch::ResultLine| {
                worst = worst.max(Some(result.outcome));
                writeln!(sink, "{}", result.line)?;
                progress.one_more();
                Ok(())
            },
        )?;
        sink.flush()
    })();
    progress.end();
    match done {
        // A reader that has gone away has read what it wanted.
        Err(error) if error.kind() == ErrorKind::BrokenPipe && arguments.output.is_none() => {}
        done => done.map_err(|error| Trouble::Plain(format!("the batch has stopped: {error}")))?,
    }
    if progress.done == 0 {
        let none = match &arguments.folder {
            Some(folder) => format!("no file in `{}` is named .yaml, .yml or .json", folder.display()),
            None => "no network came on standard input".to_owned(),
        };
        output::warn(&format!("note: {none}; nothing was checked"));
    }
    let least = match arguments.fail_on {
        FailOn::Violation => Some(Outcome::Violation),
        FailOn::Undetermined => Some(Outcome::Undetermined),
        FailOn::Never => None,
    };
    let fails = least.is_some_and(|least| worst >= Some(least));
    Ok(ExitCode::from(u8::from(fails)))
}

/// A rule set, or why there is none.
type Chosen = Result<Arc<RuleSet>, String>;

/// The rule set asked for, or those that networks name, each read once.
struct Rules<'a> {
    asked: Option<(&'a str, String, Arc<RuleSet>)>,
    on: Day,
    /// Whether networks are files, and may name rule files beside them.
    files: bool,
    /// By the folder of the network and the name that it states.
    named: Mutex<HashMap<(PathBuf, String), Chosen>>,
}

/// The most rule sets that are kept of those that the networks of one batch name; others are read each time.
const MOST_KEPT: usize = 50;

impl<'a> Rules<'a> {
    fn asked(reference: Option<&'a str>, on: Day, files: bool) -> Result<Self, Trouble> {
        let asked = reference.map(|reference| {
            let (rules, checksum) = input::rules_with_checksum(reference, on)?;
            Ok((reference, checksum, Arc::new(rules)))
        });
        Ok(Self {
            asked: asked.transpose()?,
            on,
            files,
            named: Mutex::default(),
        })
    }

    /// The reference to the rule set asked for, and the checksum of its texts.
    fn known(&self) -> Option<(String, String)> {
        let (reference, checksum, _) = self.asked.as_ref()?;
        Some(((*reference).to_owned(), checksum.clone()))
    }

    fn for_network(&self, network: &Network) -> Chosen {
        if let Some((_, _, rules)) = &self.asked {
            return Ok(Arc::clone(rules));
        }
        let Some(name) = network.rules() else {
            return Err("the network names no rule set, and none was asked for with `--rules`".to_owned());
        };
        // What comes in a line may come from anywhere, and opens no file here.
        if !self.files && !input::is_published(name) {
            return Err(format!(
                "`{name}` is no published rule set; a file of rules is given with `--rules`"
            ));
        }
        let key = (input::folder_of(network).to_owned(), name.to_owned());
        let mut known = self.named.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(rules) = known.get(&key) {
            return rules.clone();
        }
        let rules = input::rules_for(network, None, self.on).map(Arc::new);
        let rules = rules.map_err(|trouble| trouble.first().to_owned());
        if known.len() < MOST_KEPT {
            known.insert(key, rules.clone());
        }
        rules
    }
}

/// Records whose number may be known beforehand.
trait Counted: Source {
    fn total(&self) -> Option<u64>;
}

impl<R: io::BufRead + Send> Counted for Lines<R> {
    fn total(&self) -> Option<u64> {
        None
    }
}

/// The network files of a folder and of the folders in it, by the order of their names.
struct Files {
    folder: PathBuf,
    names: std::vec::IntoIter<PathBuf>,
    number: u64,
    total: u64,
}

impl Files {
    fn of(folder: &Path) -> io::Result<Self> {
        let mut names = Vec::new();
        let mut folders = vec![PathBuf::new()];
        while let Some(inner) = folders.pop() {
            for entry in std::fs::read_dir(folder.join(&inner))? {
                let entry = entry?;
                let name = inner.join(entry.file_name());
                // A link to a folder is not followed: it may lead round in a ring.
                if entry.file_type()?.is_dir() {
                    folders.push(name);
                } else if ["yaml", "yml", "json"]
                    .iter()
                    .any(|kind| name.extension().is_some_and(|own| own.eq_ignore_ascii_case(kind)))
                {
                    names.push(name);
                }
            }
        }
        names.sort();
        Ok(Self {
            folder: folder.to_owned(),
            total: names.len() as u64,
            names: names.into_iter(),
            number: 0,
        })
    }
}

impl Source for Files {
    fn next_record(&mut self) -> io::Result<Option<Record>> {
        let Some(name) = self.names.next() else {
            return Ok(None);
        };
        self.number += 1;
        let path = self.folder.join(&name).to_string_lossy().into_owned();
        // To read a pipe or a device may never end.
        let is_endless = std::fs::metadata(&path).is_ok_and(|about| !about.is_file() && !about.is_dir());
        let text = if is_endless {
            Err(format!("cannot read `{path}`: it is no file"))
        } else {
            let text = input::bytes(&path, &Limits::default());
            text.map_err(|trouble| trouble.first().to_owned())
        };
        Ok(Some(Record {
            number: self.number,
            file: Some(path),
            text,
        }))
    }
}

impl Counted for Files {
    fn total(&self) -> Option<u64> {
        Some(self.total)
    }
}

fn source(folder: Option<&Path>) -> Result<Box<dyn Counted>, Trouble> {
    let Some(folder) = folder else {
        let input = BufReader::with_capacity(1 << 16, io::stdin());
        return Ok(Box::new(Lines::new(input, Limits::default().bytes)));
    };
    let files = Files::of(folder)
        .map_err(|error| Trouble::Plain(format!("cannot read the folder `{}`: {error}", folder.display())))?;
    Ok(Box::new(files))
}

/// Where results go, and those that stand there already: their records are taken from the source.
fn sink(
    arguments: &Arguments,
    header: &Header,
    source: &mut dyn Counted,
) -> Result<(Box<dyn Write + Send>, Standing), Trouble> {
    let Some(path) = &arguments.output else {
        return Ok((Box::new(BufWriter::new(io::stdout())), Standing::default()));
    };
    let cannot = |error: io::Error| {
        let hint = match error.kind() {
            ErrorKind::AlreadyExists if path.is_file() => "; `--resume` goes on with it",
            _ => "",
        };
        Trouble::Plain(format!("cannot write `{}`: {error}{hint}", path.display()))
    };
    let mut options = OpenOptions::new();
    options.read(true).write(true);
    if arguments.resume {
        options.create(true).truncate(false);
    } else {
        options.create_new(true);
    }
    let mut file: File = options.open(path).map_err(cannot)?;
    // Before anything in it is read: what another program goes on to write would not be known here. The system takes the
    // lock away when this program ends, however it ends.
    match fs4::FileExt::try_lock(&file) {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => {
            let busy = format!(
                "cannot write `{}`: another program is writing to it",
                path.display()
            );
            return Err(Trouble::Plain(busy));
        }
        Err(TryLockError::Error(error)) => output::warn(&format!(
            "note: `{}` cannot be locked ({error}); see to it that no other program writes to it meanwhile",
            path.display()
        )),
    }
    let mut standing = Standing::default();
    if arguments.resume {
        standing = Standing::of(BufReader::new(&file), header, source)
            .map_err(|error| Trouble::Plain(format!("cannot go on with `{}`: {error}", path.display())))?;
        file.set_len(standing.bytes).map_err(cannot)?;
        file.seek(SeekFrom::End(0)).map_err(cannot)?;
    }
    Ok((Box::new(BufWriter::new(file)), standing))
}

/// How far it is, told on a terminal and nowhere else.
struct Progress {
    shown: bool,
    done: u64,
    total: Option<u64>,
    begun: Instant,
    before: u64,
    told: Instant,
}

impl Progress {
    fn new(done: u64, total: Option<u64>) -> Self {
        Self {
            shown: io::stderr().is_terminal(),
            done,
            total,
            begun: Instant::now(),
            before: done,
            told: Instant::now(),
        }
    }

    fn one_more(&mut self) {
        self.done += 1;
        // The clock is asked now and then.
        if self.shown && self.done.is_multiple_of(16) && self.told.elapsed() > Duration::from_millis(200) {
            self.told = Instant::now();
            self.tell();
        }
    }

    fn tell(&self) {
        let each_second = (self.done - self.before) as f64 / self.begun.elapsed().as_secs_f64().max(1e-9);
        let of = self
            .total
            .map_or_else(String::new, |total| format!(" of {total}"));
        let _ = write!(
            io::stderr(),
            "\r{}{of} checked, {each_second:.0} a second",
            self.done
        );
    }

    fn end(&self) {
        if self.shown {
            self.tell();
            let _ = writeln!(io::stderr());
        }
    }
}
