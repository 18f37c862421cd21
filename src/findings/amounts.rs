//! Whole numbers of things, in words.

/// A whole number with commas between thousands.
pub fn count(value: u64) -> String {
    let digits = value.to_string();
    let mut out = String::with_capacity(digits.len() + digits.len() / 3);
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// So many of something: `1 message`, `2,300 messages`.
pub fn so_many(of: u64, one: &str, several: &str) -> String {
    format!("{} {}", count(of), if of == 1 { one } else { several })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thousands_are_told_apart_and_one_is_one() {
        assert_eq!(count(1_234_567), "1,234,567");
        assert_eq!(count(999), "999");
        assert_eq!(so_many(1, "exchange", "exchanges"), "1 exchange");
        assert_eq!(so_many(2300, "exchange", "exchanges"), "2,300 exchanges");
    }
}
