//! File names as URI references (RFC 3986). It looks at no file.

use std::fmt::Write as _;

/// The reference for a file's name: relative as the name is, or with the scheme `file` where it is absolute.
pub(crate) fn reference(file: &str) -> String {
    let file = file.replace('\\', "/");
    let mut out = String::with_capacity(file.len());
    let drive = file.as_bytes().get(1) == Some(&b':');
    if drive {
        out.push_str("file:///");
    } else if file.starts_with('/') {
        out.push_str("file://");
    }
    for (at, byte) in file.bytes().enumerate() {
        // A colon would make what precedes it a scheme.
        let plain = byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) || (drive && at == 1);
        if plain {
            out.push(char::from(byte));
        } else {
            let _ = write!(out, "%{byte:02X}");
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::reference;

    #[test]
    fn names_become_references() {
        for (name, expected) in [
            ("tests/a.yaml", "tests/a.yaml"),
            ("/srv/a b.yaml", "file:///srv/a%20b.yaml"),
            ("C:\\jobs\\a.yaml", "file:///C:/jobs/a.yaml"),
            ("javascript:alert(1)", "javascript%3Aalert%281%29"),
            ("é.yaml", "%C3%A9.yaml"),
        ] {
            assert_eq!(reference(name), expected);
        }
    }
}
