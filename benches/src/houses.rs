//! Small houses, each by a number: the same number gives the same house.

use serde_json::{Value, json};

/// Numbers that look as if by chance: SplitMix64 (Steele, Lea and Flood, 2014).
struct Chance(u64);

impl Chance {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bits ^ (bits >> 31)
    }

    /// A whole number from `least` to `most`.
    fn from(&mut self, least: u64, most: u64) -> u64 {
        least + self.next() % (most - least + 1)
    }

    fn one_in(&mut self, many: u64) -> bool {
        self.next().is_multiple_of(many)
    }
}

/// A house as one line of JSON: one or two storeys, one to three bathrooms, a kitchen, perhaps a laundry, of sizes and
/// lengths that vary; about one in four has a fault. The houses are invented.
#[must_use]
pub fn house(seed: u64, number: u64) -> String {
    let mut house = House {
        chance: Chance(seed ^ number.wrapping_mul(0x2545_f491_4f6c_dd1d)),
        drains: Vec::new(),
        vents: Vec::new(),
        joints: 0,
    };
    house.build();
    let House { drains, vents, .. } = house;
    json!({
        "crownweir": "network/1",
        "name": format!("house {number}"),
        "rules": "ipc-2021",
        "site": {"occupancy": "private", "winter_design_temperature": "20 F"},
        "defaults": {"material": "pvc", "horizontal_support_spacing": "4 ft", "vertical_support_spacing": "8 ft", "mid_storey_guide": true},
        "storeys": [{"storey": "ground", "height": "9 ft"}, {"storey": "upper", "height": "9 ft"}],
        "drains": drains,
        "vents": vents,
    })
    .to_string()
}

struct House {
    chance: Chance,
    drains: Vec<Value>,
    vents: Vec<Value>,
    /// Where branches join the building drain.
    joints: u64,
}

impl House {
    fn build(&mut self) {
        let upper = self.chance.one_in(2);
        for bath in 1..=self.chance.from(1, 3) {
            let storey = if upper && bath > 1 { "upper" } else { "ground" };
            self.bathroom(bath, storey);
        }
        self.waste("KS", "kitchen_sink", ("36 in", "16 in", "1-1/2 in"));
        if self.chance.one_in(2) {
            self.waste("CW", "clothes_washer", ("42 in", "12 in", "2 in"));
        }
        self.building_drain();
    }

    fn inches(&mut self, least: u64, most: u64) -> String {
        format!("{} in", self.chance.from(least, most))
    }

    fn joint(&mut self) -> String {
        self.joints += 1;
        format!("BD-{}", self.joints)
    }

    /// A water closet whose drain is wet-vented by the lavatory, and a bathtub or shower on it.
    fn bathroom(&mut self, bath: u64, storey: &str) {
        let named = |what: &str| format!("{what}-{bath}");
        let slope = if self.chance.one_in(25) {
            "1/16 in/ft"
        } else {
            "1/4 in/ft"
        };
        // The first bathroom's closet settles how high the building drain lies; other vertical pipes reach down to it.
        let closet_drop = if bath == 1 || storey == "upper" {
            json!({"pipe": {"slope": "vertical", "length": "16 in"}})
        } else {
            json!({"pipe": {"slope": "vertical"}})
        };
        let mut path = vec![
            json!({"fixture": {"name": named("WC"), "type": "water_closet", "flush_volume": "1.6 gal", "rim_height": "15 in", "weir_height": "8 in", "trap": {"size": "3 in", "kind": "integral"}}}),
            closet_drop,
            json!({"fitting": {"name": named("CB"), "pattern": "closet_bend"}}),
            json!({"pipe": {"length": self.inches(12, 48)}}),
            json!({"fitting": {"name": named("W1"), "pattern": "wye"}}),
            json!({"pipe": {"length": self.inches(12, 60)}}),
            json!({"fitting": {"name": named("W2"), "pattern": "wye"}}),
            json!({"pipe": {"length": self.inches(24, 120)}}),
        ];
        if storey == "upper" {
            path.extend([
                json!({"fitting": {"name": named("ST"), "pattern": "long_sweep"}}),
                json!({"pipe": {"slope": "vertical"}}),
                json!({"fitting": {"name": named("SB"), "pattern": "long_sweep", "storey": "ground"}}),
                json!({"pipe": {"length": self.inches(12, 48)}}),
            ]);
        }
        path.push(json!({"at": self.joint()}));
        self.drains.push(
            json!({"run": named("bath"), "storey": storey, "size": "3 in", "slope": slope, "path": path}),
        );
        // A lavatory's arm of 1-1/4 in may be 5 ft long.
        let arm = if self.chance.one_in(20) {
            self.inches(61, 90)
        } else {
            self.inches(6, 60)
        };
        let branch = self.inches(6, 36);
        self.drains.push(json!({"run": named("lavatory"), "storey": storey, "size": "1-1/2 in", "slope": "1/4 in/ft", "path": [
            {"fixture": {"name": named("LAV"), "type": "lavatory", "rim_height": "31 in", "weir_height": "18 in", "trap": {"size": "1-1/4 in", "kind": "p", "seal": "2 in", "outlet_drop": "9 in", "outlet_offset": "4 in", "removable": true}}},
            {"pipe": {"length": arm}},
            {"fitting": {"name": named("TL"), "pattern": "sanitary_tee"}},
            {"pipe": {"slope": "vertical"}},
            {"fitting": {"name": named("EL"), "pattern": "long_sweep"}},
            {"pipe": {"length": branch}},
            {"at": named("W1")},
        ]}));
        if !self.chance.one_in(40) {
            self.vent(&named("TL"), storey, "1-1/2 in");
        }
        let shower = self.chance.one_in(2);
        let (kind, name, size, rim) = if shower {
            ("shower", named("SH"), "2 in", "3 in")
        } else {
            ("bathtub", named("TUB"), "1-1/2 in", "16 in")
        };
        let mut fixture = json!({"name": name, "type": kind, "rim_height": rim, "trap": {"size": size, "kind": "p", "seal": "2 in", "outlet_drop": "8 in", "outlet_offset": "0 in"}});
        // What is not stated leaves rules open.
        if shower && !self.chance.one_in(12) {
            fixture["flow"] = json!("2.5 gpm");
        }
        let arm = self.inches(12, 60);
        self.drains.push(
            json!({"run": name, "storey": storey, "size": size, "slope": "1/4 in/ft", "path": [
                {"fixture": fixture},
                {"pipe": {"length": arm}},
                {"at": named("W2")},
            ]}),
        );
    }

    /// A fixture with a vent of its own.
    fn waste(&mut self, name: &str, kind: &str, (rim, weir, size): (&str, &str, &str)) {
        let (tee, bend) = (format!("T-{name}"), format!("E-{name}"));
        let size = if self.chance.one_in(30) { "1-1/4 in" } else { size };
        let mut fixture = json!({"name": name, "type": kind, "rim_height": rim, "weir_height": weir, "trap": {"size": size, "kind": "p", "seal": "2 in", "outlet_drop": "11 in", "outlet_offset": "6 in"}});
        if kind == "clothes_washer" {
            fixture["standpipe_height"] = json!("30 in");
        }
        let drain = if size == "1-1/2 in" { "2 in" } else { size };
        let joint = self.joint();
        let (arm, branch) = (self.inches(12, 60), self.inches(12, 96));
        self.drains.push(
            json!({"run": name, "storey": "ground", "size": drain, "slope": "1/4 in/ft", "path": [
                {"fixture": fixture},
                {"pipe": {"length": arm, "size": size}},
                {"fitting": {"name": tee, "pattern": "sanitary_tee"}},
                {"pipe": {"slope": "vertical"}},
                {"fitting": {"name": bend, "pattern": "long_sweep"}},
                {"pipe": {"length": branch}},
                {"at": joint},
            ]}),
        );
        self.vent(&tee, "ground", "1-1/2 in");
    }

    fn vent(&mut self, from: &str, storey: &str, size: &str) {
        let length = if storey == "upper" {
            self.inches(100, 130)
        } else {
            self.inches(200, 240)
        };
        self.vents.push(json!({"run": format!("vent of {from}"), "storey": storey, "size": size, "slope": "vertical", "path": [
            {"at": from},
            {"pipe": {"length": length}},
            {"terminal": {"name": format!("VT of {from}"), "through": "roof", "roof_use": "weather", "height_above_roof": "12 in", "nearest_opening": {"distance": "14 ft", "above": "2 ft"}, "enlarged_to": "3 in"}},
        ]}));
    }

    fn building_drain(&mut self) {
        let size = if self.chance.one_in(3) { "4 in" } else { "3 in" };
        let mut path = vec![
            json!({"cleanout": {"name": "CO-1", "size": size, "clearance": "24 in", "accessible": true}}),
            json!({"pipe": {"length": self.inches(12, 60)}}),
        ];
        for number in 1..=self.joints {
            path.push(json!({"fitting": {"name": format!("BD-{number}"), "pattern": "wye"}}));
            path.push(json!({"pipe": {"length": self.inches(24, 180)}}));
        }
        path.extend([
            json!({"cleanout": {"name": "CO-2", "size": size, "clearance": "24 in", "accessible": true}}),
            json!({"pipe": {"length": "3 ft"}}),
            json!({"disposal": {"name": "sewer"}}),
        ]);
        let slope = if self.chance.one_in(2) {
            "1/8 in/ft"
        } else {
            "1/4 in/ft"
        };
        self.drains.push(json!({"run": "building drain", "kind": "building_drain", "storey": "ground", "underground": true, "size": size, "slope": slope, "path": path}));
    }
}
